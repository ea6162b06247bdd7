// What stands on the display of the simulated meter: one conversion, quantised to its range. Every encoder
// turns this into the bytes of its own language.
#pragma once

#include <cstdint>

#include "switchwright/core/quantity.hpp"
#include "switchwright/core/reading.hpp"

namespace switchwright::sim {

struct Display {
  Quantity quantity = Quantity::resistance;
  ReadingState state = ReadingState::finite;
  std::int64_t counts = 0;  ///< signed, in digits of the range; meaningful only when finite
  double resolution = 1.0;  ///< one digit, SI unit
  double full_scale = 1.0;  ///< of the range the meter stands in, SI unit
  bool autorange = true;

  double value() const { return static_cast<double>(counts) * resolution; }
  friend bool operator==(const Display&, const Display&) = default;
};

/// How a four- or five-digit display shows a range: 4000 ohm in steps of 1 ohm stands there as 4.000 k.
struct Notation {
  int exponent = 0;  ///< power of ten of the prefix: 3 is k, -3 is m
  int decimals = 0;  ///< digits after the point
};
/// The notation in use on multimeters: ohms and hertz without a prefix, in k or in M; volts without or in m;
/// amperes without, in m or in micro; farads in n or micro.
Notation notation_of(const Display& display);

}  // namespace switchwright::sim
