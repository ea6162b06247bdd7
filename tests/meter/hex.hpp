// Frames in tests are written as the reference writes them: hex bytes separated by blanks.
#pragma once

#include <cstdlib>
#include <sstream>
#include <string>

namespace switchwright::test {

inline std::string from_hex(const std::string& text) {
  std::istringstream words(text);
  std::string bytes;
  for (std::string word; words >> word;) bytes += static_cast<char>(std::strtoul(word.c_str(), nullptr, 16));
  return bytes;
}

inline std::string to_hex(const std::string& bytes) {
  static constexpr char digits[] = "0123456789ABCDEF";
  std::string text;
  for (const char c : bytes) {
    const auto byte = static_cast<unsigned char>(c);
    if (!text.empty()) text += ' ';
    text += digits[byte >> 4];
    text += digits[byte & 15];
  }
  return text;
}

}  // namespace switchwright::test
