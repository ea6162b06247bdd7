// A settled reading: what the meter indicates once several readings in a row agree.
#pragma once

#include <optional>
#include <string>

#include "switchwright/core/reading.hpp"

namespace switchwright {

struct Indication {
  Quantity quantity = Quantity::resistance;
  ReadingState state = ReadingState::finite;  ///< finite or over_range
  double value = 0.0;                         ///< mean of the settled readings, SI unit, as indicated (leads included)
  double resolution = 0.0;
  std::optional<double> beyond;  ///< over-range: what the measurand exceeds
  ReadingFlags flags;            ///< any flag that any of the readings carried
  int readings = 0;
  double spread = 0.0;  ///< standard deviation of the settled readings, SI unit; 0 where they are all alike or unknown
  Instant from;
  Instant to;
};

}  // namespace switchwright
