#include "cli/view/big_text.hpp"

#include <array>
#include <cctype>
#include <map>

namespace switchwright::cli {

namespace {

using Glyph = std::array<std::string_view, 5>;

const std::map<char, Glyph>& glyphs() {
  static const std::map<char, Glyph> table{
      {'A', {" ## ", "#  #", "####", "#  #", "#  #"}}, {'B', {"### ", "#  #", "### ", "#  #", "### "}},
      {'C', {" ###", "#   ", "#   ", "#   ", " ###"}}, {'D', {"### ", "#  #", "#  #", "#  #", "### "}},
      {'E', {"####", "#   ", "### ", "#   ", "####"}}, {'F', {"####", "#   ", "### ", "#   ", "#   "}},
      {'G', {" ###", "#   ", "# ##", "#  #", " ###"}}, {'H', {"#  #", "#  #", "####", "#  #", "#  #"}},
      {'I', {"###", " # ", " # ", " # ", "###"}},      {'J', {"  ##", "   #", "   #", "#  #", " ## "}},
      {'K', {"#  #", "# # ", "##  ", "# # ", "#  #"}}, {'L', {"#   ", "#   ", "#   ", "#   ", "####"}},
      {'M', {"#   #", "## ##", "# # #", "#   #", "#   #"}}, {'N', {"#  #", "## #", "# ##", "#  #", "#  #"}},
      {'O', {" ## ", "#  #", "#  #", "#  #", " ## "}}, {'P', {"### ", "#  #", "### ", "#   ", "#   "}},
      {'Q', {" ## ", "#  #", "#  #", "# ##", " ###"}}, {'R', {"### ", "#  #", "### ", "# # ", "#  #"}},
      {'S', {" ###", "#   ", " ## ", "   #", "### "}}, {'T', {"#####", "  #  ", "  #  ", "  #  ", "  #  "}},
      {'U', {"#  #", "#  #", "#  #", "#  #", " ## "}}, {'V', {"#   #", "#   #", " # # ", " # # ", "  #  "}},
      {'W', {"#   #", "#   #", "# # #", "## ##", "#   #"}}, {'X', {"#  #", "#  #", " ## ", "#  #", "#  #"}},
      {'Y', {"#   #", " # # ", "  #  ", "  #  ", "  #  "}}, {'Z', {"####", "  # ", " #  ", "#   ", "####"}},
      {'0', {" ## ", "#  #", "#  #", "#  #", " ## "}}, {'1', {" # ", "## ", " # ", " # ", "###"}},
      {'2', {"### ", "   #", " ## ", "#   ", "####"}}, {'3', {"### ", "   #", " ## ", "   #", "### "}},
      {'4', {"#  #", "#  #", "####", "   #", "   #"}}, {'5', {"####", "#   ", "### ", "   #", "### "}},
      {'6', {" ## ", "#   ", "### ", "#  #", " ## "}}, {'7', {"####", "   #", "  # ", " #  ", " #  "}},
      {'8', {" ## ", "#  #", " ## ", "#  #", " ## "}}, {'9', {" ## ", "#  #", " ###", "   #", " ## "}},
      {'-', {"   ", "   ", "###", "   ", "   "}},      {'+', {"   ", " # ", "###", " # ", "   "}},
      {'.', {" ", " ", " ", " ", "#"}},                {'/', {"   #", "  # ", "  # ", " #  ", "#   "}},
      {' ', {"  ", "  ", "  ", "  ", "  "}},
  };
  return table;
}

}  // namespace

std::vector<std::string> big_text(std::string_view text, std::size_t columns) {
  std::array<std::string, 5> dots;
  for (const char c : text) {
    const auto found = glyphs().find(static_cast<char>(std::toupper(static_cast<unsigned char>(c))));
    const Glyph& glyph = found != glyphs().end() ? found->second : glyphs().at('-');
    for (std::size_t line = 0; line < 5; ++line) dots[line] += std::string{glyph[line]} + " ";
  }
  const std::size_t dot_width = dots[0].size() * 2 <= columns ? 2 : 1;
  if (dots[0].size() * dot_width > columns) {
    std::string spaced;
    for (const char c : text) (spaced += static_cast<char>(std::toupper(static_cast<unsigned char>(c)))) += ' ';
    return {spaced};
  }
  std::vector<std::string> lines;
  for (const std::string& row : dots) {
    std::string line;
    for (const char dot : row)
      for (std::size_t i = 0; i < dot_width; ++i) line += dot == '#' ? "\u2588" : " ";
    lines.push_back(std::move(line));
  }
  return lines;
}

}  // namespace switchwright::cli
