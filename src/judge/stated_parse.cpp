// A stated result as somebody writes it.
#include <fast_float/fast_float.h>
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <string_view>
#include <utility>

#include "switchwright/core/amount.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/judge/stated.hpp"
#include "switchwright/meter/own.hpp"

namespace switchwright {

namespace {

constexpr const char* option = "--stated";

std::string trimmed(std::string_view text) {
  const auto first = text.find_first_not_of(" \t");
  if (first == std::string_view::npos) return {};
  return std::string{text.substr(first, text.find_last_not_of(" \t\r\n") - first + 1)};
}

/// Takes a number off the front; a decimal comma counts as a point.
std::optional<double> number(std::string& text) {
  std::string digits = text;
  if (const auto comma = digits.find(','); comma != std::string::npos) digits[comma] = '.';
  double value = 0.0;
  const auto [end, problem] = fast_float::from_chars(digits.data(), digits.data() + digits.size(), value);
  if (problem != std::errc{} || !std::isfinite(value) || value < 0.0) return std::nullopt;
  text = trimmed(text.substr(static_cast<std::size_t>(end - digits.data())));
  return value;
}

/// What a unit with its prefix multiplies by; nothing when it is none of this quantity. Case counts: M is not m.
std::optional<double> factor_of(std::string_view unit, StatedQuantity quantity) {
  const std::string base{unit_of(quantity)};
  std::vector<std::string> names{base};
  if (base == "ohm") names.insert(names.end(), {"Ohm", "ohms", "\xCE\xA9", "\xE2\x84\xA6"});
  if (base == "K")
    names.insert(names.end(), {"degC",
                               "\xC2\xB0"
                               "C"});
  constexpr std::pair<std::string_view, double> prefixes[] = {{"", 1.0},  {"u", 1e-6}, {"m", 1e-3},
                                                              {"k", 1e3}, {"M", 1e6},  {"G", 1e9}};
  for (const std::string& name : names)
    for (const auto& [prefix, factor] : prefixes)
      if (unit == std::string{prefix} + name) return factor;
  return std::nullopt;
}

Error refused(const std::string& what, const StatedRequirement& wanted) {
  const char* example = wanted.quantity == StatedQuantity::insulation_resistance
                            ? "500 Mohm, or >999 Mohm when it showed no more"
                        : wanted.quantity == StatedQuantity::withstand_current ? "0.4 mA, or >5 mA when it tripped"
                        : wanted.quantity == StatedQuantity::earth_bond        ? "0.04 ohm"
                        : wanted.quantity == StatedQuantity::temperature_rise  ? "28 K"
                                                                               : "75 N";
  return {ErrorKind::usage, what, option,
          fmt::format("{} is in {}; write it like {}", wanted.id, unit_of(wanted.quantity), example)};
}

struct Fields {
  std::string value, U, instrument, due;
};

/// A comma parts fields only where a known key follows it: instruments have commas in their names.
Fields fields_of(const std::string& text) {
  Fields fields;
  std::string* into = &fields.value;
  for (std::size_t from = 0; from <= text.size();) {
    const std::size_t to = std::min(text.find(',', from), text.size());
    const std::string piece = text.substr(from, to - from);
    const auto equals = piece.find('=');
    const std::string key = equals == std::string::npos ? std::string{} : trimmed(piece.substr(0, equals));
    const std::pair<const char*, std::string*> known[] = {
        {"U", &fields.U}, {"instrument", &fields.instrument}, {"due", &fields.due}};
    const auto found = std::find_if(std::begin(known), std::end(known), [&](const auto& k) { return key == k.first; });
    if (from > 0 && found != std::end(known)) {
      if (!found->second->empty())
        throw Error(ErrorKind::usage, "\"" + key + "\" is said twice in \"" + terminal_safe(text) + "\"", option,
                    "say it once");
      into = found->second;
      *into = piece.substr(equals + 1);
    } else {
      *into += (from > 0 ? "," : "") + piece;
    }
    from = to + 1;
  }
  for (std::string* field : {&fields.value, &fields.U, &fields.instrument, &fields.due}) *field = trimmed(*field);
  return fields;
}

}  // namespace

void parse_stated_value(const std::string& text, const StatedRequirement& wanted, StatedResult& into) {
  std::string rest = trimmed(text);
  std::string beyond;
  if (!rest.empty() && (rest[0] == '>' || rest[0] == '<')) {
    beyond = rest.substr(0, 1);
    rest = trimmed(rest.substr(1));
  }
  if (comma_may_part_thousands(rest))
    throw refused("in \"" + terminal_safe(rest) +
                      "\" the comma may part thousands or decimals: write it with a point, or "
                      "without the thousands' comma",
                  wanted);
  const auto value = number(rest);
  if (!value) throw refused("\"" + terminal_safe(text) + "\" is not a value of " + wanted.id, wanted);
  const auto factor = factor_of(rest, wanted.quantity);
  if (!factor)
    throw refused(rest.empty() ? "\"" + terminal_safe(text) + "\" has no unit"
                               : "\"" + terminal_safe(rest) + "\" is not a unit of " + wanted.id,
                  wanted);
  into.value = *value * *factor;
  into.beyond = beyond;
}

void parse_stated_U(const std::string& text, const StatedRequirement& wanted, StatedResult& into) {
  std::string rest = trimmed(text);
  const bool doubtful = comma_may_part_thousands(rest);
  const auto value = number(rest);
  const auto factor = rest == "%" ? std::optional{into.value / 100.0} : factor_of(rest, wanted.quantity);
  if (doubtful || !value || !(*value > 0.0) || !factor)
    throw Error(ErrorKind::usage, "\"" + terminal_safe(text) + "\" is not an uncertainty of " + wanted.id, option,
                fmt::format("write it like U=10% or U=5 {}", unit_of(wanted.quantity)));
  if (const double U = *value * *factor; U > 0.0) into.U = U;
}

void parse_stated_due(const std::string& text, StatedResult& into) {
  if (!is_date(text))
    throw Error(ErrorKind::usage, "\"" + terminal_safe(text) + "\" is not a date", option,
                "write the day on which the instrument's calibration is due like due=2027-01-31");
  into.due = text;
}

StatedResult parse_stated(const std::string& text, const Profile& profile) {
  const Fields fields = fields_of(text);
  const auto equals = fields.value.find('=');
  std::vector<std::string> known;
  for (const StatedRequirement& wanted : profile.stated) known.push_back(wanted.id);
  if (known.empty())
    throw Error(ErrorKind::usage, "the profile " + profile.id + " has no limit for a stated result", option,
                "add a [[stated]] table with its limit to the profile (profiles/README.md)");
  const std::string id = trimmed(fields.value.substr(0, equals == std::string::npos ? fields.value.size() : equals));
  const auto wanted = std::find_if(profile.stated.begin(), profile.stated.end(),
                                   [&](const StatedRequirement& w) { return w.id == id; });
  if (equals == std::string::npos || wanted == profile.stated.end()) {
    const std::string near = suggestion(id, known);
    throw Error(ErrorKind::usage, "\"" + terminal_safe(fields.value) + "\" states nothing that the profile asks for",
                option,
                near.empty() || equals == std::string::npos
                    ? fmt::format("write it like {}=VALUE UNIT, U=10%, instrument=NAME, due=2027-01-31", known.front())
                    : near);
  }
  StatedResult result;
  result.id = id;
  result.text = text;
  result.instrument = fields.instrument;
  parse_stated_value(fields.value.substr(equals + 1), *wanted, result);
  if (!fields.U.empty()) parse_stated_U(fields.U, *wanted, result);
  if (!fields.due.empty()) parse_stated_due(fields.due, result);
  return result;
}

}  // namespace switchwright
