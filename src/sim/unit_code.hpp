// The code or spelling a meter has for the unit of its display, looked up in the definition's own table
// (code = "UNIT" or "UNIT ac|dc|diode|continuity").
#pragma once

#include <map>
#include <optional>
#include <string>

#include "sim/display.hpp"

namespace switchwright::sim {

struct UnitCode {
  std::string code;
  int exponent = 0;  ///< power of ten of its prefix
};

/// The entry with the display's own prefix, or failing that any entry of the same unit and mode.
std::optional<UnitCode> unit_code(const std::map<std::string, std::string>& units, const Display& display);

/// The magnitude in a unit with that prefix, with the decimals that the display has ("4.700").
std::string digits_in(const Display& display, int exponent);
/// Digits after the point in a unit with that prefix; 0 when one digit of the display is larger than 1.
int decimals_in(const Display& display, int exponent);

}  // namespace switchwright::sim
