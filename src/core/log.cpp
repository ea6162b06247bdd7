#include "switchwright/core/log.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <utility>

namespace switchwright {

namespace {

constexpr std::size_t longest_shown = 48;

LogListener& listener() {
  static LogListener one;
  return one;
}

bool is_text(char c) { return (c >= ' ' && c <= '~') || c == '\r' || c == '\n'; }

}  // namespace

void listen_to_log(LogListener wanted) { listener() = std::move(wanted); }

void log(LogLevel level, const std::function<std::string()>& line) {
  if (listener()) listener()(level, line());
}

std::string log_bytes(std::string_view bytes) {
  const std::string_view shown = bytes.substr(0, longest_shown);
  std::string out;
  if (std::all_of(shown.begin(), shown.end(), is_text)) {
    out += '"';
    for (const char c : shown) out += c == '\r' ? "\\r" : c == '\n' ? "\\n" : std::string(1, c);
    out += '"';
  } else {
    for (const char c : shown) out += fmt::format("{}{:02x}", out.empty() ? "" : " ", static_cast<unsigned char>(c));
  }
  if (shown.size() < bytes.size()) out += fmt::format(" and {} bytes more", bytes.size() - shown.size());
  return out;
}

}  // namespace switchwright
