#include "cli/view/big_text.hpp"

#include <array>
#include <cctype>
#include <map>

#include "cli/view/terminal.hpp"

namespace switchwright::cli {

namespace {

using Glyph = std::array<std::string_view, 5>;

const std::map<char, Glyph>& glyphs() {
  static const std::map<char, Glyph> table{
      {'A', {" ## ", "#  #", "####", "#  #", "#  #"}},
      {'B', {"### ", "#  #", "### ", "#  #", "### "}},
      {'C', {" ###", "#   ", "#   ", "#   ", " ###"}},
      {'D', {"### ", "#  #", "#  #", "#  #", "### "}},
      {'E', {"####", "#   ", "### ", "#   ", "####"}},
      {'F', {"####", "#   ", "### ", "#   ", "#   "}},
      {'G', {" ###", "#   ", "# ##", "#  #", " ###"}},
      {'H', {"#  #", "#  #", "####", "#  #", "#  #"}},
      {'I', {"###", " # ", " # ", " # ", "###"}},
      {'J', {"  ##", "   #", "   #", "#  #", " ## "}},
      {'K', {"#  #", "# # ", "##  ", "# # ", "#  #"}},
      {'L', {"#   ", "#   ", "#   ", "#   ", "####"}},
      {'M', {"#   #", "## ##", "# # #", "#   #", "#   #"}},
      {'N', {"#  #", "## #", "# ##", "#  #", "#  #"}},
      {'O', {" ## ", "#  #", "#  #", "#  #", " ## "}},
      {'P', {"### ", "#  #", "### ", "#   ", "#   "}},
      {'Q', {" ## ", "#  #", "#  #", "# ##", " ###"}},
      {'R', {"### ", "#  #", "### ", "# # ", "#  #"}},
      {'S', {" ###", "#   ", " ## ", "   #", "### "}},
      {'T', {"#####", "  #  ", "  #  ", "  #  ", "  #  "}},
      {'U', {"#  #", "#  #", "#  #", "#  #", " ## "}},
      {'V', {"#   #", "#   #", " # # ", " # # ", "  #  "}},
      {'W', {"#   #", "#   #", "# # #", "## ##", "#   #"}},
      {'X', {"#  #", "#  #", " ## ", "#  #", "#  #"}},
      {'Y', {"#   #", " # # ", "  #  ", "  #  ", "  #  "}},
      {'Z', {"####", "  # ", " #  ", "#   ", "####"}},
      {'0', {" ## ", "#  #", "#  #", "#  #", " ## "}},
      {'1', {" # ", "## ", " # ", " # ", "###"}},
      {'2', {"### ", "   #", " ## ", "#   ", "####"}},
      {'3', {"### ", "   #", " ## ", "   #", "### "}},
      {'4', {"#  #", "#  #", "####", "   #", "   #"}},
      {'5', {"####", "#   ", "### ", "   #", "### "}},
      {'6', {" ## ", "#   ", "### ", "#  #", " ## "}},
      {'7', {"####", "   #", "  # ", " #  ", " #  "}},
      {'8', {" ## ", "#  #", " ## ", "#  #", " ## "}},
      {'9', {" ## ", "#  #", " ###", "   #", " ## "}},
      {'-', {"   ", "   ", "###", "   ", "   "}},
      {'+', {"   ", " # ", "###", " # ", "   "}},
      {'.', {" ", " ", " ", " ", "#"}},
      {'/', {"   #", "  # ", "  # ", " #  ", "#   "}},
      {' ', {"  ", "  ", "  ", "  ", "  "}},
  };
  return table;
}

}  // namespace

namespace {

using Dots = std::array<std::string, 5>;

Dots dots_of(std::string_view text) {
  Dots dots;
  for (const char c : text) {
    const auto found = glyphs().find(static_cast<char>(std::toupper(static_cast<unsigned char>(c))));
    const Glyph& glyph = found != glyphs().end() ? found->second : glyphs().at('-');
    for (std::size_t line = 0; line < 5; ++line) dots[line] += std::string{glyph[line]} + " ";
  }
  return dots;
}

std::vector<std::string> tall(const Dots& dots, std::size_t dot_width, const char* dot) {
  std::vector<std::string> lines;
  for (const std::string& row : dots) {
    std::string line;
    for (const char c : row)
      for (std::size_t i = 0; i < dot_width; ++i) line += c == '#' ? dot : " ";
    lines.push_back(std::move(line));
  }
  return lines;
}

std::vector<std::string> half(const Dots& dots) {
  std::vector<std::string> lines;
  for (std::size_t row = 0; row < 5; row += 2) {
    std::string line;
    for (std::size_t i = 0; i < dots[row].size(); ++i) {
      const bool upper = dots[row][i] == '#', lower = row + 1 < 5 && dots[row + 1][i] == '#';
      line += upper && lower ? "\u2588" : upper ? "\u2580" : lower ? "\u2584" : " ";
    }
    lines.push_back(std::move(line));
  }
  return lines;
}

/// Spaced where that fits.
std::vector<std::string> one_line(std::string_view text, std::size_t columns) {
  std::string capitals, spaced;
  for (const char c : text) capitals += static_cast<char>(std::toupper(static_cast<unsigned char>(c)));
  for (const char c : capitals) (spaced += c) += ' ';
  if (!spaced.empty()) spaced.pop_back();
  if (spaced.size() <= columns) return {spaced};
  return wrapped(capitals, columns);
}

}  // namespace

std::vector<std::string> big_text(std::string_view text, std::size_t columns, LetterSize size, bool utf8) {
  const Dots dots = dots_of(text);
  if (size == LetterSize::none) return {};
  if (size == LetterSize::half && utf8 && dots[0].size() <= columns) return half(dots);
  const char* const dot = utf8 ? "\u2588" : "#";
  if (size == LetterSize::tall && dots[0].size() * 2 <= columns) return tall(dots, 2, dot);
  if (size == LetterSize::tall && dots[0].size() <= columns) return tall(dots, 1, dot);
  return one_line(text, columns);
}

}  // namespace switchwright::cli
