// Numbers and units as meters print them. A number is kept as whole digits and a power of ten until the very
// end, so that "4.700 k" is 4700 and not 4700.000000000001, and so that its last digit (the resolution) is
// never lost.
#pragma once

#include <cstdint>
#include <optional>
#include <string_view>

#include "switchwright/core/quantity.hpp"

namespace switchwright {

/// (-1)^minus x digits x 10^exponent.
struct Scaled {
  std::uint64_t digits = 0;
  int exponent = 0;
  bool minus = false;

  double value() const;
  /// One step of the last digit.
  double step() const;
};

/// digits x 10^exponent, correctly rounded.
double scaled_value(std::uint64_t digits, int exponent);

enum class NumberForm {
  plain,     ///< "4.700": a digit before the point, no exponent
  exponent,  ///< the same with an optional exponent
  scpi,      ///< NR1, NR2, NR3: an exponent, and also "-.00002"
};

/// Reads a number from the front of `text` and removes it there. Nothing when there is none, or more than 19
/// digits.
std::optional<Scaled> take_number(std::string_view& text, NumberForm form);

enum class Dimension { volt, ampere, ohm, hertz, farad, celsius, fahrenheit, percent };

/// A unit with its prefix as a power of ten.
struct Unit {
  Dimension dimension = Dimension::ohm;
  int exponent = 0;
};

/// Reads "V", "mV", "kohm", "uA", "MHz", "nF", "degC", "degF", "%": prefixes n u m k M G.
std::optional<Unit> unit_named(std::string_view text);

/// What else a frame says about the kind of measurement.
struct Mode {
  bool ac = false;
  bool dc = false;
  bool diode = false;
  bool continuity = false;
};

struct UnitInMode {
  Unit unit;
  Mode mode;
};
/// "UNIT" or "UNIT ac|dc|diode|continuity": "mV dc", "kohm", "V diode".
std::optional<UnitInMode> unit_in_mode(std::string_view text);

/// The quantity of a unit in a mode; nothing when they contradict each other or AC/DC is missing.
std::optional<Quantity> quantity_of(Dimension dimension, const Mode& mode);
/// A quantity may be given in this dimension.
bool fits(Quantity quantity, Dimension dimension);

/// Brings a number in its unit to the SI unit of Reading (percent to a fraction, degF to degC).
struct InSi {
  double value = 0.0;
  double step = 0.0;
};
InSi in_si(Scaled number, Unit unit);

}  // namespace switchwright
