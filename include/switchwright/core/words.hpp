// Words for people and for shells: the names that quantities go by, and one word of a command line to paste.
#pragma once

#include <string>
#include <string_view>
#include <vector>

namespace switchwright {

/// Every name that quantity_named knows, for "did you mean".
std::vector<std::string> quantity_names();

/// One word of a command line that can be pasted into a shell, in quotes where blanks or signs ask for them.
std::string shell_word(std::string_view text);

}  // namespace switchwright
