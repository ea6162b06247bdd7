#include "meter/decode/scaled.hpp"

#include <fast_float/fast_float.h>
#include <fmt/format.h>

#include <algorithm>
#include <array>

namespace switchwright {

namespace {

bool is_digit(char c) { return c >= '0' && c <= '9'; }

struct Named {
  std::string_view name;
  Dimension dimension;
};
constexpr std::array dimensions{
    Named{"V", Dimension::volt},          Named{"A", Dimension::ampere},  Named{"ohm", Dimension::ohm},
    Named{"Hz", Dimension::hertz},        Named{"F", Dimension::farad},   Named{"degC", Dimension::celsius},
    Named{"degF", Dimension::fahrenheit}, Named{"%", Dimension::percent},
};

std::optional<int> exponent_of(char prefix) {
  switch (prefix) {
    case 'n': return -9;
    case 'u': return -6;
    case 'm': return -3;
    case 'k': return 3;
    case 'M': return 6;
    case 'G': return 9;
    default: return std::nullopt;
  }
}

bool takes_prefix(Dimension dimension) {
  return dimension != Dimension::celsius && dimension != Dimension::fahrenheit && dimension != Dimension::percent;
}

}  // namespace

double scaled_value(std::uint64_t digits, int exponent) {
  fmt::memory_buffer text;
  fmt::format_to(std::back_inserter(text), "{}e{}", digits, exponent);
  double value = 0.0;
  fast_float::from_chars(text.data(), text.data() + text.size(), value);
  return value;
}

double Scaled::value() const { return (minus ? -1.0 : 1.0) * scaled_value(digits, exponent); }
double Scaled::step() const { return scaled_value(1, exponent); }

std::optional<Scaled> take_number(std::string_view& text, NumberForm form) {
  std::size_t i = 0;
  Scaled number;
  if (i < text.size() && (text[i] == '+' || text[i] == '-')) number.minus = text[i++] == '-';
  int digits = 0;
  bool point = false;
  for (; i < text.size() && (is_digit(text[i]) || (text[i] == '.' && !point)); ++i) {
    if (text[i] == '.') {
      if (digits == 0 && form != NumberForm::scpi) return std::nullopt;
      point = true;
      continue;
    }
    if (++digits > 19) return std::nullopt;
    number.digits = number.digits * 10 + static_cast<std::uint64_t>(text[i] - '0');
    if (point) --number.exponent;
  }
  if (digits == 0) return std::nullopt;
  if (form != NumberForm::plain && i < text.size() && (text[i] == 'e' || text[i] == 'E')) {
    std::size_t j = i + 1;
    const bool minus = j < text.size() && text[j] == '-';
    if (j < text.size() && (text[j] == '+' || text[j] == '-')) ++j;
    int exponent = 0;
    const std::size_t first = j;
    for (; j < text.size() && is_digit(text[j]) && j - first < 3; ++j) exponent = exponent * 10 + (text[j] - '0');
    if (j == first || (j < text.size() && is_digit(text[j]))) return std::nullopt;
    number.exponent += minus ? -exponent : exponent;
    i = j;
  }
  text.remove_prefix(i);
  return number;
}

std::optional<Unit> unit_named(std::string_view text) {
  for (const Named& named : dimensions) {
    if (text == named.name) return Unit{named.dimension, 0};
    if (takes_prefix(named.dimension) && text.size() == named.name.size() + 1 && text.substr(1) == named.name)
      if (const auto exponent = exponent_of(text.front())) return Unit{named.dimension, *exponent};
  }
  return std::nullopt;
}

std::optional<UnitInMode> unit_in_mode(std::string_view text) {
  const std::size_t blank = text.find(' ');
  const auto unit = unit_named(text.substr(0, blank));
  if (!unit) return std::nullopt;
  UnitInMode result{*unit, {}};
  if (blank == std::string_view::npos) return result;
  const std::string_view mode = text.substr(blank + 1);
  result.mode = {mode == "ac", mode == "dc", mode == "diode", mode == "continuity"};
  const bool known = result.mode.ac || result.mode.dc || result.mode.diode || result.mode.continuity;
  return known ? std::optional(result) : std::nullopt;
}

std::optional<Quantity> quantity_of(Dimension dimension, const Mode& mode) {
  if ((mode.ac && mode.dc) || (mode.diode && mode.continuity)) return std::nullopt;
  if (mode.diode && dimension != Dimension::volt) return std::nullopt;
  if (mode.continuity && dimension != Dimension::ohm) return std::nullopt;
  switch (dimension) {
    case Dimension::volt:
      if (mode.diode) return Quantity::diode;
      if (mode.ac == mode.dc) return std::nullopt;
      return mode.ac ? Quantity::voltage_ac : Quantity::voltage_dc;
    case Dimension::ampere:
      if (mode.ac == mode.dc) return std::nullopt;
      return mode.ac ? Quantity::current_ac : Quantity::current_dc;
    case Dimension::ohm: return mode.continuity ? Quantity::continuity : Quantity::resistance;
    case Dimension::hertz: return Quantity::frequency;
    case Dimension::farad: return Quantity::capacitance;
    case Dimension::celsius:
    case Dimension::fahrenheit: return Quantity::temperature;
    case Dimension::percent: return Quantity::duty;
  }
  return std::nullopt;
}

bool fits(Quantity quantity, Dimension dimension) {
  switch (dimension) {
    case Dimension::volt: return is_voltage(quantity) || quantity == Quantity::diode;
    case Dimension::ampere: return quantity == Quantity::current_ac || quantity == Quantity::current_dc;
    case Dimension::ohm: return is_resistance(quantity);
    case Dimension::hertz: return quantity == Quantity::frequency;
    case Dimension::farad: return quantity == Quantity::capacitance;
    case Dimension::celsius:
    case Dimension::fahrenheit: return quantity == Quantity::temperature;
    case Dimension::percent: return quantity == Quantity::duty;
  }
  return false;
}

InSi in_si(Scaled number, Unit unit) {
  number.exponent += unit.exponent;
  if (unit.dimension == Dimension::percent) number.exponent -= 2;
  if (unit.dimension == Dimension::fahrenheit) return {(number.value() - 32.0) / 1.8, number.step() / 1.8};
  return {number.value(), number.step()};
}

}  // namespace switchwright
