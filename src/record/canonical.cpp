#include "switchwright/record/canonical.hpp"

#include <array>
#include <charconv>
#include <cmath>
#include <nlohmann/json.hpp>
#include <stdexcept>

namespace switchwright {

std::string canonical_number(double value) {
  if (!std::isfinite(value)) throw std::domain_error("JSON holds finite numbers only");
  if (value == 0.0) return "0";
  std::array<char, 40> buffer{};
  const auto end =
      std::to_chars(buffer.data(), buffer.data() + buffer.size(), std::abs(value), std::chars_format::scientific).ptr;
  const std::string text(buffer.data(), end);
  const auto e = text.find('e');
  const int exponent = std::stoi(text.substr(e + 1));
  std::string digits = text.substr(0, 1);
  if (e > 2) digits += text.substr(2, e - 2);
  // ECMAScript Number::toString: n is where the decimal point stands, counted from the first digit.
  const int n = exponent + 1;
  const int k = static_cast<int>(digits.size());
  std::string out = value < 0 ? "-" : "";
  if (k <= n && n <= 21) {
    out += digits;
    out.append(static_cast<std::size_t>(n - k), '0');
  } else if (0 < n && n <= 21) {
    digits.insert(static_cast<std::size_t>(n), 1, '.');
    out += digits;
  } else if (-6 < n && n <= 0) {
    out += "0.";
    out.append(static_cast<std::size_t>(-n), '0');
    out += digits;
  } else {
    if (k > 1) digits.insert(1, 1, '.');
    out += digits;
    out += exponent < 0 ? "e-" : "e+";
    out += std::to_string(std::abs(exponent));
  }
  return out;
}

namespace {

void write(const nlohmann::json& value, std::string& out) {
  if (value.is_object()) {
    out += '{';
    bool first = true;
    for (const auto& [key, member] : value.items()) {  // nlohmann keeps members sorted by key
      if (!first) out += ',';
      first = false;
      out += nlohmann::json(key).dump();
      out += ':';
      write(member, out);
    }
    out += '}';
  } else if (value.is_array()) {
    out += '[';
    for (std::size_t i = 0; i < value.size(); ++i) {
      if (i > 0) out += ',';
      write(value[i], out);
    }
    out += ']';
  } else if (value.is_number_float()) {
    out += canonical_number(value.get<double>());
  } else {
    out += value.dump();
  }
}

}  // namespace

std::string canonical_bytes(const nlohmann::json& document) {
  std::string out;
  write(document, out);
  return out;
}

}  // namespace switchwright
