#include "switchwright/core/amount.hpp"

#include <fast_float/fast_float.h>
#include <fmt/format.h>

#include <algorithm>
#include <chrono>
#include <cmath>
#include <span>

#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"

namespace switchwright {

namespace {

/// value = written * factor + offset
struct Unit {
  std::string_view spelling;
  double factor = 1.0;
  bool exact = false;  ///< m is not M here: "mV" is never "MV"
  double offset = 0.0;
};

struct Kind {
  Amount amount;
  std::string_view noun;     ///< "a voltage"
  std::string_view unit;     ///< of the result, for messages
  std::string_view example;  ///< how to write it
  std::span<const Unit> units;
};

constexpr Unit volt_units[] = {{"V"}, {"volt"}, {"volts"}, {"VAC"}, {"V AC"}, {"mV", 1e-3, true}, {"kV", 1e3}};
constexpr Unit ampere_units[] = {{"A"},        {"amp"},           {"amps"},
                                 {"ampere"},   {"amperes"},       {"mA", 1e-3, true},
                                 {"uA", 1e-6}, {"\u00B5A", 1e-6}, {"\u03BCA", 1e-6}};
constexpr Unit watt_units[] = {{"W"}, {"watt"}, {"watts"}, {"kW", 1e3}, {"kilowatt", 1e3}, {"kilowatts", 1e3}};
constexpr Unit ohm_units[] = {{"ohm"},
                              {"ohms"},
                              {"\u03A9"},
                              {"\u2126"},
                              {"mohm", 1e-3, true},
                              {"m\u03A9", 1e-3, true},
                              {"m\u2126", 1e-3, true},
                              {"milliohm", 1e-3},
                              {"milliohms", 1e-3},
                              {"kohm", 1e3},
                              {"k\u03A9", 1e3},
                              {"k\u2126", 1e3},
                              {"Mohm", 1e6, true},
                              {"M\u03A9", 1e6, true},
                              {"M\u2126", 1e6, true},
                              {"megohm", 1e6},
                              {"k", 1e3},
                              {"M", 1e6, true},
                              {"Gohm", 1e9}};
constexpr Unit second_units[] = {{"s"},          {"sec"},          {"secs"},          {"second"},
                                 {"seconds"},    {"ms", 1e-3},     {"m", 60.0},       {"min", 60.0},
                                 {"mins", 60.0}, {"minute", 60.0}, {"minutes", 60.0}, {"h", 3600.0},
                                 {"hr", 3600.0}, {"hrs", 3600.0},  {"hour", 3600.0},  {"hours", 3600.0}};
constexpr double fahrenheit = 5.0 / 9.0;
constexpr double fahrenheit_offset = -32.0 * 5.0 / 9.0;
constexpr Unit celsius_units[] = {{"C"},
                                  {"degC"},
                                  {"deg C"},
                                  {"\u00B0C"},
                                  {"\u00B0 C"},
                                  {"celsius"},
                                  {"F", fahrenheit, false, fahrenheit_offset},
                                  {"degF", fahrenheit, false, fahrenheit_offset},
                                  {"deg F", fahrenheit, false, fahrenheit_offset},
                                  {"\u00B0F", fahrenheit, false, fahrenheit_offset}};
constexpr Unit inch_units[] = {{"in"}, {"inch"}, {"inches"}, {"\""}, {"\u2033"}, {"mm", 1.0 / 25.4}};
constexpr Unit percent_units[] = {{"%"}, {"percent"}};
constexpr Unit share_units[] = {{"%", 0.01}, {"percent", 0.01}};
constexpr Unit hertz_units[] = {{"Hz"}, {"/s"}, {"1/s"}, {"per second"}};

constexpr Kind kinds[] = {
    {Amount::volts, "a voltage", "V", "240, 240V or 0.24 kV", volt_units},
    {Amount::amperes, "a current", "A", "15, 15A or 250 mA", ampere_units},
    {Amount::watts, "a power", "W", "2800W or 2.8 kW", watt_units},
    {Amount::ohms, "a resistance", "ohm", "21, 21ohm or 4.7 kohm", ohm_units},
    {Amount::seconds, "a time", "s", "90s, 15m or 2h", second_units},
    {Amount::celsius, "a temperature", "degC", "23, 23C or 73F", celsius_units},
    {Amount::inches, "a width", "inch", "0.250, 0.250in or 6.3mm", inch_units},
    {Amount::percent, "a percentage", "%", "5 or 5%", percent_units},
    {Amount::share, "a share", "", "0.9 or 90%", share_units},
    {Amount::hertz, "a rate", "/s", "4, 4Hz or 4/s", hertz_units},
    {Amount::number, "a number", "", "0.5", {}},
};

const Kind& kind_of(Amount amount) {
  return *std::find_if(std::begin(kinds), std::end(kinds), [&](const Kind& kind) { return kind.amount == amount; });
}

std::string lower(std::string_view text) {
  std::string out{text};
  for (char& c : out)
    if (c >= 'A' && c <= 'Z') c = static_cast<char>(c - 'A' + 'a');
  return out;
}

void replace_all(std::string& text, std::string_view what, std::string_view with) {
  for (auto at = text.find(what); at != std::string::npos; at = text.find(what, at + with.size()))
    text.replace(at, what.size(), with);
}

std::string_view trimmed(std::string_view text) {
  while (!text.empty() && text.front() == ' ') text.remove_prefix(1);
  while (!text.empty() && text.back() == ' ') text.remove_suffix(1);
  return text;
}

bool is_digit(char c) { return c >= '0' && c <= '9'; }

/// Typed minus signs and blanks of other widths count as the plain ones.
std::string plain(std::string_view text) {
  std::string out{text};
  replace_all(out, "\u2212", "-");
  for (const char* blank : {"\u00A0", "\u2009", "\u202F", "\t"}) replace_all(out, blank, " ");
  return std::string{trimmed(out)};
}

const Unit* unit_named(const Kind& kind, std::string_view spelling) {
  for (const Unit& unit : kind.units)
    if (unit.spelling == spelling) return &unit;
  const std::string small = lower(spelling);
  for (const Unit& unit : kind.units)
    if (!unit.exact && lower(unit.spelling) == small) return &unit;
  return nullptr;
}

/// Reads one text; every refusal names it and says how it could be written.
class Reader {
 public:
  Reader(std::string_view text, const Kind& kind, const std::string& where)
      : given_(text), kind_(kind), where_(where), text_(plain(text)), rest_(text_) {}

  double read() {
    double sum = 0.0;
    const Unit* last = nullptr;
    do {
      const double written = number();
      const Unit& unit = its_unit();
      // "1 h 30 min": only times add up, each unit smaller than the one before.
      if (last != nullptr && (kind_.amount != Amount::seconds || unit.factor >= last->factor || written < 0.0))
        throw refused("it holds more than one number");
      sum += written * unit.factor + unit.offset;
      last = &unit;
    } while (!rest_.empty());
    return sum;
  }

  Error refused(const std::string& why) const {
    return {ErrorKind::usage, fmt::format("\"{}\" is not {}: {}", terminal_safe(given_), kind_.noun, why), where_,
            fmt::format("write it like {}", kind_.example)};
  }

 private:
  double number() {
    std::size_t end = 0;
    if (end < rest_.size() && (rest_[end] == '-' || rest_[end] == '+')) ++end;
    const std::size_t first = end;
    std::size_t separators = 0;
    while (end < rest_.size() &&
           (is_digit(rest_[end]) || ((rest_[end] == '.' || rest_[end] == ',') && is_number_on(end)))) {
      if (!is_digit(rest_[end])) ++separators;
      ++end;
    }
    if (end == first) throw refused(rest_.empty() ? "there is no number" : "it does not begin with a number");
    if (separators > 1) throw refused("write it without signs between the thousands, and one decimal sign");
    if (separators == 1 && comma_may_part_thousands(std::string_view{rest_}.substr(first, end - first)))
      throw refused("the comma may part thousands or decimals; write it with a point, or without");
    // An exponent, but not the first letter of a word.
    if (end + 1 < rest_.size() && (rest_[end] == 'e' || rest_[end] == 'E')) {
      const std::size_t sign = rest_[end + 1] == '-' || rest_[end + 1] == '+' ? 1 : 0;
      std::size_t digits = end + 1 + sign;
      while (digits < rest_.size() && is_digit(rest_[digits])) ++digits;
      if (digits > end + 1 + sign) end = digits;
    }
    std::string clean{rest_.substr(rest_.front() == '+' ? 1 : 0, end - (rest_.front() == '+' ? 1 : 0))};
    std::replace(clean.begin(), clean.end(), ',', '.');
    double value = 0.0;
    const auto [stop, problem] = fast_float::from_chars(clean.data(), clean.data() + clean.size(), value);
    if (problem != std::errc{} || stop != clean.data() + clean.size() || !std::isfinite(value))
      throw refused("the number cannot be read");
    rest_ = trimmed(rest_.substr(end));
    return value;
  }

  /// A point or comma belongs to the number when a digit stands before or after it.
  bool is_number_on(std::size_t at) const {
    return (at > 0 && is_digit(rest_[at - 1])) || (at + 1 < rest_.size() && is_digit(rest_[at + 1]));
  }

  /// What stands up to the next digit; the kind's own unit when nothing does. Takes it off the rest.
  const Unit& its_unit() {
    static constexpr Unit own{};
    // Blanks between digits part thousands for some people and two numbers for others.
    if (!rest_.empty() && (is_digit(rest_.front()) || rest_.front() == '-' || rest_.front() == '+'))
      throw refused("there is a blank inside the number");
    std::size_t end = rest_.size();
    if (kind_.amount == Amount::seconds)
      end = std::min(end, static_cast<std::size_t>(std::find_if(rest_.begin(), rest_.end(), is_digit) - rest_.begin()));
    const std::string_view spelling = trimmed(rest_.substr(0, end));
    rest_ = trimmed(rest_.substr(end));
    if (spelling.empty()) return own;
    if (const Unit* unit = unit_named(kind_, spelling)) return *unit;
    for (const Kind& other : kinds)
      if (unit_named(other, spelling) != nullptr && &other != &kind_)
        throw refused(fmt::format("{} is a unit of {}", terminal_safe(spelling), other.noun.substr(2)));
    throw refused(fmt::format("\"{}\" is no unit of {}", terminal_safe(spelling), kind_.noun.substr(2)));
  }

  std::string_view given_;
  const Kind& kind_;
  const std::string& where_;
  std::string text_;
  std::string_view rest_;
};

std::string with_unit(double value, const Kind& kind) {
  if (kind.amount == Amount::seconds && value >= 60.0) return human_seconds(value);
  return fmt::format("{:g}{}{}", value, kind.unit.empty() || kind.amount == Amount::hertz ? "" : " ", kind.unit);
}

}  // namespace

std::optional<Amount> unit_kind_of(std::string_view text) {
  const std::string clean = plain(text);
  const std::size_t end = clean.find_last_of("0123456789.,");
  const std::string_view spelling = trimmed(std::string_view{clean}.substr(end == std::string::npos ? 0 : end + 1));
  if (spelling.empty()) return std::nullopt;
  for (const Kind& kind : kinds)
    if (unit_named(kind, spelling) != nullptr) return kind.amount;
  return std::nullopt;
}

bool comma_may_part_thousands(std::string_view text) {
  const auto digits = [&](std::size_t from) {
    std::size_t to = from;
    while (to < text.size() && is_digit(text[to])) ++to;
    return to - from;
  };
  const std::size_t before = digits(0);
  return before >= 1 && before <= 3 && text.front() != '0' && before < text.size() && text[before] == ',' &&
         digits(before + 1) == 3;
}

double read_amount(std::string_view text, Amount amount, AmountRange range, const std::string& where) {
  const Kind& kind = kind_of(amount);
  Reader reader{text, kind, where};
  const double value = reader.read();
  if (value < range.least || (range.above_least && value <= range.least))
    throw reader.refused(
        fmt::format("it must be {} {}", range.above_least ? "more than" : "at least", with_unit(range.least, kind)));
  if (value > range.most) throw reader.refused("it must be at most " + with_unit(range.most, kind));
  return value;
}

double read_load_ohm(const std::string& text, const std::string& where) {
  constexpr const char* how = "write it like 2800W@240 (watts at the voltage that the element is made for) or 21ohm";
  constexpr AmountRange some{0.0, 1e9, true};
  const auto at = text.find('@');
  const std::string amount = text.substr(0, at);
  const auto kind = unit_kind_of(amount);
  if (at == std::string::npos) {
    if (kind && *kind != Amount::ohms)
      throw Error(ErrorKind::usage, "\"" + terminal_safe(text) + "\" is not a load: it does not say at which voltage",
                  where, how);
    return read_amount(amount, Amount::ohms, some, where);
  }
  const double volts = read_amount(text.substr(at + 1), Amount::volts, {0.0, 1e5, true}, where);
  if (kind == Amount::watts) return volts * volts / read_amount(amount, Amount::watts, some, where);
  if (kind == Amount::amperes) return volts / read_amount(amount, Amount::amperes, some, where);
  throw Error(ErrorKind::usage, "\"" + terminal_safe(text) + "\" is not a load: it does not say watts", where, how);
}

unsigned long read_count(std::string_view text, unsigned long least, unsigned long most, std::string_view noun,
                         const std::string& where) {
  const std::string clean = plain(text);
  std::size_t end = 0;
  while (end < clean.size() && is_digit(clean[end])) ++end;
  const std::string_view word = trimmed(std::string_view{clean}.substr(end));
  const auto refused = [&](const std::string& why) {
    return Error(ErrorKind::usage, fmt::format("\"{}\" is not a count: {}", terminal_safe(text), why), where,
                 fmt::format("write a whole number, like {}", std::max(least, std::min(most, 20UL))));
  };
  const bool its_noun = !noun.empty() && (word == noun || word == std::string{noun} + "s");
  if (end == 0 || !(word.empty() || its_noun))
    throw refused(clean.starts_with('-') ? "it must not be negative" : "only digits are taken");
  unsigned long value = 0;
  for (std::size_t i = 0; i < end; ++i) {
    const unsigned long digit = static_cast<unsigned long>(clean[i] - '0');
    if (value > (std::numeric_limits<unsigned long>::max() - digit) / 10) throw refused("it is too large");
    value = value * 10 + digit;
  }
  if (value < least) throw refused(fmt::format("it must be at least {}", least));
  if (value > most) throw refused(fmt::format("it must be at most {}", most));
  return value;
}

double read_time(std::string_view text, const std::string& where) {
  return read_amount(text, Amount::seconds, {0.0, 1e7, true}, where);
}

bool is_calendar_date(std::string_view text) {
  if (text.size() != 10 || text[4] != '-' || text[7] != '-') return false;
  int part[3] = {0, 0, 0};
  const std::size_t from[3] = {0, 5, 8}, to[3] = {4, 7, 10};
  for (int i = 0; i < 3; ++i)
    for (std::size_t at = from[i]; at < to[i]; ++at) {
      if (!is_digit(text[at])) return false;
      part[i] = part[i] * 10 + (text[at] - '0');
    }
  return part[0] >= 1900 &&
         std::chrono::year_month_day{std::chrono::year{part[0]}, std::chrono::month{static_cast<unsigned>(part[1])},
                                     std::chrono::day{static_cast<unsigned>(part[2])}}
             .ok();
}

}  // namespace switchwright
