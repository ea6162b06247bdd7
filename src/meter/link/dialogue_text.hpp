// Small readings of what meters answer besides readings.
#pragma once

#include <optional>
#include <string>
#include <string_view>

namespace switchwright {

constexpr int undefined_header = -113;  ///< SCPI-1999 volume 2, 21.8.4

/// -100 to -199: what was sent is not understood (SCPI-1999 volume 2, 21.8.9).
constexpr bool is_command_error(int code) {
  return code <= -100 && code >= -199;
}

struct ErrorEntry {
  int code = 0;
  std::string text;
};
/// `-113,"Undefined header;FOO:BAR?"`, `+0,"No error"`, unquoted text, or the bare number 0; nothing for
/// anything else (a late reading, say).
std::optional<ErrorEntry> error_entry(std::string_view line);

/// Anything that is not a plain number: a late reading is not taken for a name.
bool looks_like_identity(const std::string& line);

/// Without blanks around it and without a prompt before it ("3> ", "=> ").
std::string without_prompt(std::string_view line);

/// "READ?" for "READ?\r\n"; other bytes as \xNN.
std::string printable(std::string_view bytes);

}  // namespace switchwright
