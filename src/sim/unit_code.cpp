#include "sim/unit_code.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <string_view>

#include "switchwright/core/quantity.hpp"

namespace switchwright::sim {

namespace {

struct UnitText {
  std::string_view base;
  int exponent = 0;
};

UnitText without_prefix(std::string_view unit) {
  constexpr std::string_view prefixes = "numkMG";
  constexpr int exponents[] = {-9, -6, -3, 3, 6, 9};
  const bool whole = unit.size() < 2 || unit == "degC" || unit == "degF" || unit == "ohm";
  const auto at = whole ? std::string_view::npos : prefixes.find(unit.front());
  if (at == std::string_view::npos) return {unit, 0};
  return {unit.substr(1), exponents[at]};
}

std::string_view mode_of(Quantity quantity) {
  switch (quantity) {
    case Quantity::voltage_ac:
    case Quantity::current_ac: return "ac";
    case Quantity::voltage_dc:
    case Quantity::current_dc: return "dc";
    case Quantity::diode: return "diode";
    case Quantity::continuity: return "continuity";
    default: return "";
  }
}

}  // namespace

std::optional<UnitCode> unit_code(const std::map<std::string, std::string>& units, const Display& display) {
  const int wanted = notation_of(display).exponent;
  std::optional<UnitCode> found;
  for (const auto& [code, meaning] : units) {
    const auto blank = std::min(meaning.find(' '), meaning.size());
    const UnitText unit = without_prefix(std::string_view{meaning}.substr(0, blank));
    const std::string_view mode = std::string_view{meaning}.substr(std::min(blank + 1, meaning.size()));
    const bool percent = unit.base == "%" && display.quantity == Quantity::duty;
    if (unit.base != unit_of(display.quantity) && !percent) continue;
    if (!mode.empty() && mode != mode_of(display.quantity)) continue;
    if (found && unit.exponent != wanted) continue;
    found = UnitCode{code, percent ? -2 : unit.exponent};
  }
  return found;
}

int decimals_in(const Display& display, int exponent) {
  return std::max(0, static_cast<int>(std::lround(exponent - std::log10(display.resolution))));
}

std::string digits_in(const Display& display, int exponent) {
  return fmt::format("{:.{}f}", std::abs(display.value()) / std::pow(10.0, exponent), decimals_in(display, exponent));
}

}  // namespace switchwright::sim
