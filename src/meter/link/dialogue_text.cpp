#include "meter/link/dialogue_text.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cctype>
#include <charconv>
#include <cstdlib>
#include <map>
#include <vector>

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

bool looks_like_function(const std::string& line) {
  if (error_entry(line)) return false;
  const std::string name = function_name(line);
  return name.size() >= 2 && std::isalpha(static_cast<unsigned char>(name[0])) != 0 &&
         std::isalpha(static_cast<unsigned char>(name[1])) != 0;
}

std::string function_name(std::string_view answer) {
  std::string_view text = trimmed(answer);
  while (!text.empty() && (text.front() == '"' || text.front() == '\'' || text.front() == ':')) text.remove_prefix(1);
  text = trimmed(text.substr(0, text.find_first_of("\"',; \t")));
  std::vector<std::string> nodes{""};
  for (const char c : text) {
    if (c == ':')
      nodes.emplace_back();
    else
      nodes.back() += static_cast<char>(std::toupper(static_cast<unsigned char>(c)));
  }
  static const std::map<std::string, std::string> short_forms{
      {"VOLTAGE", "VOLT"},     {"CURRENT", "CURR"},    {"RESISTANCE", "RES"}, {"FRESISTANCE", "FRES"},
      {"FREQUENCY", "FREQ"},   {"CONTINUITY", "CONT"}, {"DIODE", "DIOD"},     {"CAPACITANCE", "CAP"},
      {"TEMPERATURE", "TEMP"}, {"SENSE", "SENS"},      {"SENSE1", "SENS"},    {"SENS1", "SENS"}};
  for (std::string& node : nodes)
    if (const auto found = short_forms.find(node); found != short_forms.end()) node = found->second;
  if (nodes.size() > 1 && nodes.front() == "SENS") nodes.erase(nodes.begin());
  if (nodes.size() == 2 && nodes[1] == "DC") nodes.pop_back();
  std::string name;
  for (const std::string& node : nodes) name += (name.empty() ? "" : ":") + node;
  return name;
}

bool names(std::string_view answer, const FunctionCommands& function) {
  const std::string name = function_name(answer);
  if (!function.is.empty())
    return std::any_of(function.is.begin(), function.is.end(),
                       [&](const std::string& own) { return function_name(own) == name; });
  static const std::map<Quantity, std::string> by_standard{
      {Quantity::resistance, "RES"},     {Quantity::resistance_4_wire, "FRES"}, {Quantity::voltage_dc, "VOLT"},
      {Quantity::voltage_ac, "VOLT:AC"}, {Quantity::current_dc, "CURR"},        {Quantity::current_ac, "CURR:AC"},
      {Quantity::frequency, "FREQ"},     {Quantity::continuity, "CONT"},        {Quantity::diode, "DIOD"},
      {Quantity::capacitance, "CAP"},    {Quantity::temperature, "TEMP"}};
  const auto standard = by_standard.find(function.quantity);
  return standard != by_standard.end() && standard->second == name;
}

std::string_view without_prompt(std::string_view line) {
  constexpr std::size_t longest_prompt = 8;
  for (line = trimmed(line);;) {
    const std::size_t mark = line.substr(0, longest_prompt).find('>');
    // Quotes and commas are parts of answers.
    if (mark == std::string_view::npos || line.substr(0, mark).find_first_of("\"',") != std::string_view::npos)
      return line;
    line = trimmed(line.substr(mark + 1));
  }
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
