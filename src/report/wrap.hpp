// Paragraphs for a terminal or a mail.
#pragma once

#include <string>

namespace switchwright {

/// Breaks a paragraph at blanks; later lines begin with `indent`. Ends with a line end.
std::string wrapped(const std::string& first, const std::string& indent, const std::string& text);

}  // namespace switchwright
