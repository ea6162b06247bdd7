// Numbers as people write them: with their unit or without, a blank between, a decimal comma where that is the custom.
// Every option and every answer that takes a number goes through here, so that "240", "240V", "240 V" and "240,0 V" are
// one thing everywhere, and what is refused is refused with the same words.
#pragma once

#include <limits>
#include <optional>
#include <string>
#include <string_view>

namespace switchwright {

/// What a number stands for; decides which units it may carry and what it means without one.
enum class Amount {
  volts,    ///< without a unit: V; mV, kV
  amperes,  ///< A; mA, uA
  watts,    ///< W; kW
  ohms,     ///< ohm; mohm, kohm, Mohm
  seconds,  ///< s; ms, min (m), h; "1 h 30 min" adds up
  celsius,  ///< degree Celsius; F is converted
  inches,   ///< inch; mm is converted
  percent,  ///< percent
  share,    ///< 0 to 1; "%" is converted
  hertz,    ///< 1/s
  number,   ///< without a unit
};

/// What lies outside is refused, with the limit in the unit that `Amount` has without one.
struct AmountRange {
  double least = -std::numeric_limits<double>::infinity();
  double most = std::numeric_limits<double>::infinity();
  bool above_least = false;  ///< `least` itself is outside as well
};

/// One to three digits, the first no zero, a comma and just three more: "1,000 mohm" is one milliohm to some and one ohm
/// to others.
bool comma_may_part_thousands(std::string_view text);

/// The number in SI units (inches, percent and degrees Celsius as they are). A comma counts as the decimal sign, except
/// where it may as well part thousands ("1,234"), which is refused.
/// @param where the option, for the error; may be empty.
/// @throws Error(usage) that says what is wrong with the text and how to write it.
double read_amount(std::string_view text, Amount amount, AmountRange range, const std::string& where = {});

/// A load as people state it, in ohms: "2800W@240", "21 ohm"; a bare number is ohms. @throws Error(usage).
double read_load_ohm(const std::string& text, const std::string& where = {});

/// The kind whose unit the text ends with; absent where it carries none, or one that is not known.
std::optional<Amount> unit_kind_of(std::string_view text);

/// A whole number of things, written in digits; `noun` ("cycle") may follow it.
/// @throws Error(usage).
unsigned long read_count(std::string_view text, unsigned long least, unsigned long most, std::string_view noun = {},
                         const std::string& where = {});

/// A duration above nothing and up to 1e7 s: "90s", "15m", "1 h 30 min"; seconds. @throws Error(usage).
double read_time(std::string_view text, const std::string& where = {});

/// YYYY-MM-DD and a day that exists in the Gregorian calendar, from 1900 on.
bool is_calendar_date(std::string_view text);

}  // namespace switchwright
