// Large letters, for a person who looks up from two probes for a second.
#pragma once

#include <string>
#include <string_view>
#include <vector>

namespace switchwright::cli {

enum class LetterSize {
  tall,    ///< five lines high
  half,    ///< three lines: two dots to a character
  line,    ///< one line, widely spaced
  joined,  ///< one line for all texts of a page
  none,
};

/// The text as large as `size` says and `columns` allow (each dot of tall letters two columns wide, else one), else
/// smaller; letters are shown as capitals. No line is wider than `columns`.
/// @param utf8 false: a terminal without block characters; dots are '#' and there are no half ones.
std::vector<std::string> big_text(std::string_view text, std::size_t columns, LetterSize size = LetterSize::tall,
                                  bool utf8 = true);

}  // namespace switchwright::cli
