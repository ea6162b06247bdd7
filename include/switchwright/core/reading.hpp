// One value decoded from a meter. Not seen, open (over-range), not a number and zero are different things and
// stay different.
#pragma once

#include <optional>
#include <string>

#include "switchwright/core/clock.hpp"
#include "switchwright/core/quantity.hpp"

namespace switchwright {

enum class ReadingState {
  finite,        ///< `value` holds
  over_range,    ///< the measurand is beyond the meter's range: what an open circuit shows on ohms
  not_a_number,  ///< the meter answered, but not with a value
};

struct ReadingFlags {
  bool hold = false;         ///< the display is frozen: such a reading is refused
  bool relative = false;     ///< the meter subtracts an offset of its own: such a reading is refused
  bool low_battery = false;  ///< accuracy is no longer as specified
  bool autorange = false;    ///< the meter picks its range
  bool min_max = false;      ///< a kept extreme, not the present value: such a reading is refused

  friend bool operator==(const ReadingFlags&, const ReadingFlags&) = default;
};

struct Reading {
  Quantity quantity = Quantity::resistance;
  ReadingState state = ReadingState::finite;
  double value = 0.0;       ///< SI unit of `quantity`; meaningful only when `state` is finite
  double resolution = 0.0;  ///< one digit of the display, SI unit; 0 when the meter does not show it
  /// For over_range: the magnitude the measurand exceeds (full scale of the range), when the frame tells it.
  std::optional<double> beyond;
  ReadingFlags flags;
  Instant at;       ///< when the last byte of the frame arrived
  std::string raw;  ///< the frame as it came, byte for byte

  bool finite() const { return state == ReadingState::finite; }
};

}  // namespace switchwright
