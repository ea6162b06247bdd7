// A meter as its definition describes it: it picks the range, is off by a fixed share of its accuracy,
// flickers by a digit, and shows whole digits. Pure; the same seed gives the same readings.
#pragma once

#include <cstdint>
#include <random>
#include <vector>

#include "sim/display.hpp"
#include "switchwright/meter/definition.hpp"

namespace switchwright::sim {

/// Thread rule: one owner, one thread.
class MeterModel {
 public:
  MeterModel(const MeterDefinition& definition, std::uint64_t seed);

  /// The meter has at least one range for it (continuity borrows the lowest resistance range).
  bool measures(Quantity quantity) const;
  /// One conversion of `value` (SI unit; infinity is beyond every range). Not-a-number when the meter does
  /// not measure the quantity.
  Display convert(Quantity quantity, double value);
  /// The conversion during which the probes or the knob moved: something between what stood there before and
  /// `value`.
  Display convert_between(const Display& before, double value);

 private:
  struct Range {
    AccuracyRow row;
    double gain_error = 0.0;    ///< fraction
    double offset_error = 0.0;  ///< SI unit
  };
  std::vector<const Range*> ranges_for(Quantity quantity) const;

  std::vector<Range> ranges_;
  std::mt19937_64 noise_;
};

}  // namespace switchwright::sim
