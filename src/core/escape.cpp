#include "core/escape.hpp"

#include "switchwright/core/text.hpp"

namespace switchwright {

namespace {

/// Unicode's bidirectional controls (U+202A..U+202E, U+2066..U+2069) can show a text in another order than it
/// has.
std::string without_direction_controls(std::string text) {
  for (std::size_t i = 0; i + 2 < text.size(); ++i) {
    const auto b0 = static_cast<unsigned char>(text[i]);
    const auto b1 = static_cast<unsigned char>(text[i + 1]);
    const auto b2 = static_cast<unsigned char>(text[i + 2]);
    const bool embedding = b0 == 0xE2 && b1 == 0x80 && b2 >= 0xAA && b2 <= 0xAE;
    const bool isolate = b0 == 0xE2 && b1 == 0x81 && b2 >= 0xA6 && b2 <= 0xA9;
    if (embedding || isolate) text.replace(i, 3, "\xEF\xBF\xBD");
  }
  return text;
}

}  // namespace

std::string line_safe(std::string_view text) { return without_direction_controls(terminal_safe(text)); }

std::string html_safe(std::string_view text) {
  std::string safe;
  for (const char c : line_safe(text)) {
    switch (c) {
      case '&': safe += "&amp;"; break;
      case '<': safe += "&lt;"; break;
      case '>': safe += "&gt;"; break;
      case '"': safe += "&quot;"; break;
      case '\'': safe += "&#39;"; break;
      default: safe += c;
    }
  }
  return safe;
}

std::string csv_text(std::string_view text) {
  // Spreadsheets take these first characters for a formula (also after blanks that they skip).
  const auto first = text.find_first_not_of(' ');
  const bool formula =
      first != std::string_view::npos && std::string_view("=+-@\t\r\n").find(text[first]) != std::string_view::npos;
  std::string field = formula ? "'" : "";
  field += line_safe(text);
  if (field.find_first_of("\",\n\r") == std::string::npos && !formula) return field;
  std::string quoted = "\"";
  for (const char c : field) {
    if (c == '"') quoted += '"';
    quoted += c;
  }
  return quoted + "\"";
}

}  // namespace switchwright
