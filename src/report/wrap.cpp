#include "report/wrap.hpp"

namespace switchwright {

namespace {
constexpr std::size_t width = 88;
}  // namespace

std::string wrapped(const std::string& first, const std::string& indent, const std::string& text) {
  std::string out = first, line_word;
  std::size_t column = first.size();
  bool at_start = true;
  std::size_t from = 0;
  while (from < text.size()) {
    const auto to = std::min(text.find(' ', from), text.size());
    const std::string word = text.substr(from, to - from);
    from = to + 1;
    if (word.empty()) continue;
    if (!at_start && column + 1 + word.size() > width) {
      out += "\n" + indent;
      column = indent.size();
      at_start = true;
    }
    if (!at_start) {
      out += ' ';
      ++column;
    }
    out += word;
    column += word.size();
    at_start = false;
  }
  return out + "\n";
}

}  // namespace switchwright
