#include "meter/decode/symbols.hpp"

#include <algorithm>
#include <array>
#include <utility>

namespace switchwright {

namespace {

constexpr std::array<std::pair<std::string_view, Symbol>, 31> words{{
    {"ac", Symbol::ac},
    {"dc", Symbol::dc},
    {"auto", Symbol::autorange},
    {"minus", Symbol::minus},
    {"point-before-2", Symbol::point_before_2},
    {"point-before-3", Symbol::point_before_3},
    {"point-before-4", Symbol::point_before_4},
    {"nano", Symbol::nano},
    {"micro", Symbol::micro},
    {"milli", Symbol::milli},
    {"kilo", Symbol::kilo},
    {"mega", Symbol::mega},
    {"percent", Symbol::percent},
    {"diode", Symbol::diode},
    {"continuity", Symbol::continuity},
    {"farad", Symbol::farad},
    {"ohm", Symbol::ohm},
    {"volt", Symbol::volt},
    {"ampere", Symbol::ampere},
    {"hertz", Symbol::hertz},
    {"celsius", Symbol::celsius},
    {"fahrenheit", Symbol::fahrenheit},
    {"relative", Symbol::relative},
    {"hold", Symbol::hold},
    {"low-battery", Symbol::low_battery},
    {"maximum", Symbol::maximum},
    {"minimum", Symbol::minimum},
    {"over-range", Symbol::over_range},
    {"not-a-number", Symbol::not_a_number},
    {"judge", Symbol::judge},
    {"ignored", Symbol::ignored},
}};

constexpr std::array<std::pair<Symbol, Dimension>, 8> units{{
    {Symbol::volt, Dimension::volt},
    {Symbol::ampere, Dimension::ampere},
    {Symbol::ohm, Dimension::ohm},
    {Symbol::hertz, Dimension::hertz},
    {Symbol::farad, Dimension::farad},
    {Symbol::celsius, Dimension::celsius},
    {Symbol::fahrenheit, Dimension::fahrenheit},
    {Symbol::percent, Dimension::percent},
}};

constexpr std::array<std::pair<Symbol, int>, 5> prefixes{{
    {Symbol::nano, -9},
    {Symbol::micro, -6},
    {Symbol::milli, -3},
    {Symbol::kilo, 3},
    {Symbol::mega, 6},
}};

}  // namespace

std::optional<Symbol> symbol_named(std::string_view word) {
  for (const auto& [name, symbol] : words)
    if (name == word) return symbol;
  return std::nullopt;
}

const std::vector<std::string>& symbol_words() {
  static const std::vector<std::string> all = [] {
    std::vector<std::string> names;
    for (const auto& [name, symbol] : words) names.emplace_back(name);
    return names;
  }();
  return all;
}

bool is_symbol_word(std::string_view word) { return symbol_named(word).has_value(); }

ReadingFlags flags_of(const Symbols& symbols) {
  ReadingFlags flags;
  flags.hold = symbols.has(Symbol::hold);
  flags.relative = symbols.has(Symbol::relative);
  flags.low_battery = symbols.has(Symbol::low_battery);
  flags.autorange = symbols.has(Symbol::autorange);
  flags.min_max = symbols.has(Symbol::maximum) || symbols.has(Symbol::minimum);
  return flags;
}

Mode mode_of(const Symbols& symbols) {
  return {symbols.has(Symbol::ac), symbols.has(Symbol::dc), symbols.has(Symbol::diode),
          symbols.has(Symbol::continuity)};
}

std::optional<Unit> unit_of(const Symbols& symbols) {
  std::optional<Unit> found;
  for (const auto& [symbol, dimension] : units) {
    if (!symbols.has(symbol)) continue;
    if (found) return std::nullopt;
    found = Unit{dimension, 0};
  }
  if (!found) return std::nullopt;
  bool prefixed = false;
  for (const auto& [symbol, exponent] : prefixes) {
    if (!symbols.has(symbol)) continue;
    if (prefixed) return std::nullopt;
    prefixed = true;
    if (found->dimension == Dimension::celsius || found->dimension == Dimension::fahrenheit ||
        found->dimension == Dimension::percent)
      return std::nullopt;
    found->exponent = exponent;
  }
  return found;
}

BitTable::BitTable(const std::map<std::string, std::string>& table, int (*index_of)(std::string_view)) {
  for (const auto& [key, word] : table)
    if (const auto name = bit_named(key)) {
      const int index = index_of(name->byte);
      if (index < 0) continue;
      if (rows_.size() <= static_cast<std::size_t>(index)) rows_.resize(static_cast<std::size_t>(index) + 1);
      rows_[static_cast<std::size_t>(index)].bit[name->bit] = symbol_named(word);
    }
}

bool BitTable::add(int index, unsigned byte, Symbols& symbols) const {
  if (byte == 0) return true;
  if (static_cast<std::size_t>(index) >= rows_.size()) return false;
  const Row& row = rows_[static_cast<std::size_t>(index)];
  for (int bit = 0; bit < 8; ++bit) {
    if (!(byte >> bit & 1U)) continue;
    if (!row.bit[bit]) return false;
    symbols.set(*row.bit[bit]);
  }
  return true;
}

std::optional<BitName> bit_named(std::string_view key) {
  if (key.size() < 3 || key[key.size() - 2] != '.' || key.back() < '0' || key.back() > '7') return std::nullopt;
  return BitName{key.substr(0, key.size() - 2), key.back() - '0'};
}

int byte_number(std::string_view text) {
  if (text.empty() || text.size() > 2 || text.find_first_not_of("0123456789") != std::string_view::npos) return -1;
  int number = 0;
  for (const char c : text) number = number * 10 + (c - '0');
  return number;
}

}  // namespace switchwright
