#include "page/targets.hpp"

#include "page/files.hpp"

namespace switchwright::page {

namespace {

int hex_digit(char c) {
  if (c >= '0' && c <= '9') return c - '0';
  if (c >= 'a' && c <= 'f') return c - 'a' + 10;
  if (c >= 'A' && c <= 'F') return c - 'A' + 10;
  return -1;
}

std::optional<std::string> decoded(std::string_view text) {
  std::string out;
  for (std::size_t i = 0; i < text.size(); ++i) {
    char c = text[i];
    if (c == '%') {
      if (i + 2 >= text.size()) return std::nullopt;
      const int high = hex_digit(text[i + 1]), low = hex_digit(text[i + 2]);
      if (high < 0 || low < 0) return std::nullopt;
      c = static_cast<char>(high * 16 + low);
      i += 2;
    }
    if (static_cast<unsigned char>(c) < 32 || c == 127) return std::nullopt;
    out += c;
  }
  return out;
}

}  // namespace

std::optional<Target> read_target(std::string_view target) {
  if (!target.starts_with('/')) return std::nullopt;
  const auto question = target.find('?');
  const auto path = decoded(target.substr(0, question));
  if (!path || path->find("..") != std::string::npos) return std::nullopt;
  Target read{*path, {}};
  for (std::string_view rest = question == std::string_view::npos ? std::string_view{} : target.substr(question + 1);
       !rest.empty();) {
    const auto end = std::min(rest.find('&'), rest.size());
    const std::string_view one = rest.substr(0, end);
    rest.remove_prefix(std::min(end + 1, rest.size()));
    const auto equals = one.find('=');
    const auto name = decoded(one.substr(0, equals));
    const auto value = decoded(equals == std::string_view::npos ? std::string_view{} : one.substr(equals + 1));
    if (!name || !value) return std::nullopt;
    read.query[*name] = *value;
  }
  return read;
}

bool is_static(const std::string& path) { return file_at(path) != nullptr; }

}  // namespace switchwright::page
