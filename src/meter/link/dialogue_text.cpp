#include "meter/link/dialogue_text.hpp"

#include <fmt/format.h>

#include <cctype>
#include <charconv>
#include <cstdlib>

namespace switchwright {

namespace {

std::string_view trimmed(std::string_view text) {
  const auto is_space = [](char c) { return std::isspace(static_cast<unsigned char>(c)) != 0; };
  while (!text.empty() && is_space(text.front())) text.remove_prefix(1);
  while (!text.empty() && is_space(text.back())) text.remove_suffix(1);
  return text;
}

}  // namespace

std::optional<ErrorEntry> error_entry(std::string_view line) {
  std::string_view rest = trimmed(line);
  if (rest.starts_with('+')) rest.remove_prefix(1);
  ErrorEntry entry;
  const auto [end, error] = std::from_chars(rest.data(), rest.data() + rest.size(), entry.code);
  if (error != std::errc{}) return std::nullopt;
  rest = trimmed(rest.substr(static_cast<std::size_t>(end - rest.data())));
  if (rest.empty()) return entry.code == 0 ? std::optional{entry} : std::nullopt;
  if (!rest.starts_with(',')) return std::nullopt;
  rest = trimmed(rest.substr(1));
  if (rest.starts_with('"')) {
    rest.remove_prefix(1);
    if (rest.ends_with('"')) rest.remove_suffix(1);
  } else if (!rest.empty() && std::isalpha(static_cast<unsigned char>(rest.front())) == 0) {
    return std::nullopt;  // a list of numbers
  }
  entry.text = std::string{rest};
  return entry;
}

bool looks_like_identity(const std::string& line) {
  char* end = nullptr;
  (void)std::strtod(line.c_str(), &end);
  return end == line.c_str() || *end != 0;
}

std::string without_prompt(std::string_view line) {
  std::string_view text = trimmed(line);
  std::size_t at = 0;
  while (at < text.size() && (std::isdigit(static_cast<unsigned char>(text[at])) != 0 || text[at] == '='))
    ++at;
  if (at < text.size() && text[at] == '>') text = trimmed(text.substr(at + 1));
  return std::string{text};
}

std::string printable(std::string_view bytes) {
  std::string text;
  for (const char c : trimmed(bytes)) {
    const auto byte = static_cast<unsigned char>(c);
    text += byte >= 0x20 && byte < 0x7F ? std::string(1, c) : fmt::format("\\x{:02X}", byte);
  }
  return text;
}

}  // namespace switchwright
