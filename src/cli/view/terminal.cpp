#include "cli/view/terminal.hpp"

#include <poll.h>
#include <sys/ioctl.h>
#include <unistd.h>

#include <algorithm>
#include <cctype>
#include <cstdint>
#include <cstdlib>
#include <string_view>

#include "cli/output.hpp"

namespace switchwright::cli {

namespace {

/// The code point at `at`, and how many bytes it takes; a torn one counts as one byte.
std::pair<std::uint32_t, std::size_t> code_point(const std::string& text, std::size_t at) {
  const auto byte = [&](std::size_t i) { return static_cast<std::uint32_t>(static_cast<unsigned char>(text[i])); };
  const std::uint32_t first = byte(at);
  const std::size_t size = first < 0x80 ? 1 : first >= 0xF0 ? 4 : first >= 0xE0 ? 3 : first >= 0xC0 ? 2 : 1;
  if (size == 1 || at + size > text.size()) return {first, 1};
  std::uint32_t point = first & (0xFFU >> (size + 1));
  for (std::size_t i = 1; i < size; ++i) point = (point << 6) | (byte(at + i) & 0x3FU);
  return {point, size};
}

/// Combining marks stand on the letter before; East Asian letters take two columns (UAX #11, the wide blocks).
std::size_t columns_of(std::uint32_t point) {
  if ((point >= 0x300 && point <= 0x36F) || point == 0x200B || point == 0x200D || (point >= 0xFE00 && point <= 0xFE0F))
    return 0;
  const bool wide = (point >= 0x1100 && point <= 0x115F) || (point >= 0x2E80 && point <= 0xA4CF) ||
                    (point >= 0xAC00 && point <= 0xD7A3) || (point >= 0xF900 && point <= 0xFAFF) ||
                    (point >= 0xFE30 && point <= 0xFE6F) || (point >= 0xFF00 && point <= 0xFF60) ||
                    (point >= 0xFFE0 && point <= 0xFFE6) || (point >= 0x1F300 && point <= 0x1FAFF) ||
                    (point >= 0x20000 && point <= 0x3FFFD);
  return wide ? 2 : 1;
}

/// How many bytes of the text fit into so many columns; at least one letter.
std::size_t fitting(const std::string& text, std::size_t columns) {
  std::size_t at = 0, used = 0;
  while (at < text.size()) {
    const auto [point, size] = code_point(text, at);
    used += columns_of(point);
    if (used > columns && at > 0) break;
    at += size;
  }
  return at;
}

}  // namespace

TerminalSize terminal_size() {
  winsize size{};
  if (::ioctl(STDOUT_FILENO, TIOCGWINSZ, &size) == 0 && size.ws_col > 0 && size.ws_row > 0)
    return {std::max<std::size_t>(size.ws_col, 10), std::max<std::size_t>(size.ws_row, 4)};
  return {};
}

bool can_draw() {
  const char* term = std::getenv("TERM");
  return interactive() && term != nullptr && *term != '\0' && std::string_view{term} != "dumb";
}

bool takes_text() {
  pollfd output{STDOUT_FILENO, POLLOUT, 0};
  return ::poll(&output, 1, 0) != 0;  // an error is for the next write to tell
}

bool speaks_utf8() {
  for (const char* name : {"LC_ALL", "LC_CTYPE", "LANG"}) {
    const char* value = std::getenv(name);
    if (value == nullptr || *value == '\0') continue;
    std::string text = value;
    std::transform(text.begin(), text.end(), text.begin(),
                   [](unsigned char c) { return static_cast<char>(std::tolower(c)); });
    return text.find("utf-8") != std::string::npos || text.find("utf8") != std::string::npos;
  }
  return false;
}

std::size_t width_of(const std::string& text) {
  std::size_t width = 0;
  for (std::size_t at = 0; at < text.size();) {
    const auto [point, size] = code_point(text, at);
    width += columns_of(point);
    at += size;
  }
  return width;
}

std::vector<std::string> wrapped(const std::string& text, std::size_t columns) {
  columns = std::max<std::size_t>(columns, 1);
  if (width_of(text) <= columns) return {text};  // tables keep their columns
  std::vector<std::string> lines;
  std::string line;
  for (std::size_t at = 0; at < text.size();) {
    const std::size_t end = std::min(text.find(' ', at), text.size());
    std::string word = text.substr(at, end - at);
    at = end + 1;
    if (word.empty()) continue;
    if (!line.empty() && width_of(line) + 1 + width_of(word) > columns) {
      lines.push_back(std::move(line));
      line.clear();
    }
    while (line.empty() && width_of(word) > columns) {
      const std::size_t fits = fitting(word, columns);
      lines.push_back(word.substr(0, fits));
      word.erase(0, fits);
    }
    line += (line.empty() ? "" : " ") + word;
  }
  if (!line.empty() || lines.empty()) lines.push_back(line);
  return lines;
}

std::string paragraph(const std::string& first, const std::string& text, std::size_t columns) {
  // A first part that leaves no room stands on a line of its own.
  const std::size_t begin = width_of(first);
  const bool narrow = begin + 16 > columns && first.find_first_not_of(' ') != std::string::npos;
  const std::size_t indent = narrow ? std::min<std::size_t>(4, columns / 4) : begin;
  std::string out = narrow ? first.substr(0, first.find_last_not_of(' ') + 1) + "\n" : first;
  bool fresh = !narrow;
  for (const std::string& line : wrapped(text, columns > indent + 1 ? columns - indent : 1)) {
    if (!fresh) out += std::string(indent, ' ');
    out += line + "\n";
    fresh = false;
  }
  return out;
}

std::string painted(const std::string& text, const char* code) {
  return colour() && *code != '\0' ? "\x1b[" + std::string{code} + "m" + text + "\x1b[0m" : text;
}

}  // namespace switchwright::cli
