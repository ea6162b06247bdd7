// What the caller may know beforehand about a series. Everything absent is found from the samples.
#pragma once

#include <cstddef>
#include <optional>
#include <string_view>

namespace switchwright {

struct CycleSettings {
  /// State levels known beforehand (both or neither), unit of the channel; found by histogram mode when
  /// absent.
  std::optional<double> low_level = {};
  std::optional<double> high_level = {};
  /// Two levels closer than this share of the larger magnitude are one level: a mains voltage that sags by a
  /// few percent under load is "always on", not cycling.
  double min_step_fraction = 0.10;
  /// Below this magnitude the channel is dead, unit of the channel. A single level below it is
  /// "always off"; two levels are one when the high one is below 40 % of it (standby that changes). Absent: a
  /// single level counts as dead below `default_dead_below`, and the rule for two levels rests.
  std::optional<double> dead_below = {};
  static constexpr double default_dead_below = 0.5;
  /// One digit of the meter, unit of the channel; 0 = unknown. Two levels fewer than four digits apart are
  /// one.
  double resolution = 0.0;
  /// A longer interval between two samples is a gap. Absent: more than 3 times the median and 2 times the 95
  /// % quantile of the intervals.
  std::optional<double> gap_over_s = {};
  /// A shorter excursion is a blip: reported, not a cycle. Absent: one sample, or a tenth of the typical
  /// dwell (the smaller of the median on and off dwells among the first `calibration_dwells`).
  std::optional<double> min_dwell_s = {};
  std::size_t calibration_dwells = 32;
  /// The shortest dwell that this part may have; a gap as long as this could hide an excursion. Absent: the
  /// shortest dwell seen.
  std::optional<double> shortest_dwell_s = {};
  /// The display of the meter is updated this often; values asked for in between repeat it. Absent: found from
  /// values that are held (held.hpp).
  std::optional<double> update_s = {};
  /// Relative limit of error of the clock that stamped the samples (rectangular). 1e-4 is a common computer
  /// clock.
  double clock_accuracy = 1e-4;
};

/// The dead limit that goes with a unit, from a column name such as "load (V)", "power_W" or "current [mA]":
/// 2 V, 5 W (or VA), 0.02 A. Nothing when the name tells no unit. Common practice, no source.
std::optional<double> dead_below_for(std::string_view column_name);

}  // namespace switchwright
