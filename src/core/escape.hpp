// Text from outside (operator, part, files, meters), made harmless for where it goes.
#pragma once

#include <string>
#include <string_view>

namespace switchwright {

/// For HTML and SVG text and quoted attributes: the five special characters, no control characters, nothing
/// that turns the writing direction round.
std::string html_safe(std::string_view text);
/// For a terminal: one line, no control characters, nothing that turns the writing direction round.
std::string line_safe(std::string_view text);
/// One CSV field (RFC 4180). A text that a spreadsheet would take for a formula gets an apostrophe before it.
std::string csv_text(std::string_view text);

}  // namespace switchwright
