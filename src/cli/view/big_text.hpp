// Letters five lines high, for a person who looks up from two probes for a second.
#pragma once

#include <string>
#include <string_view>
#include <vector>

namespace switchwright::cli {

/// Five lines of block characters, as wide as `columns` allows (each dot two columns wide, else one); falls back to the
/// plain text, widely spaced, when even that does not fit. Letters are shown as capitals.
std::vector<std::string> big_text(std::string_view text, std::size_t columns);

}  // namespace switchwright::cli
