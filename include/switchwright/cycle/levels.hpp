// The two state levels of a bilevel series, or the finding that it has only one.
//
// Standard: group the samples per state, take the mode of each group (IEEE Std 181-2011 5.2, IEC 60469:2013).
// The textbook grouping (halves of minimum to maximum) fails on real appliances: one inrush sample several
// times the running level moves the middle above the level. So:
//   1. Only samples that stay count. A sample is steady when it agrees with the one before within a tenth of
//   the
//      range (which two samples in a row confirm), settled when five in a row agree. Settled samples are
//      tried first (an inrush of up to four samples is then invisible), then steady ones, then all (pulses of
//      one sample each: found, but not to be trusted).
//   2. The groups are split where the variance between them is greatest (Otsu's criterion), which also finds
//   a
//      pulse that is on for a thousandth of the time. A high group under 2 % of the samples and under 5 % of
//      what lies beneath it is a longer inrush, if what remains splits cleanly with a step of at least a
//      twentieth: it is set aside.
//   3. Level = mean of the samples in the fullest window of 2 % of the step: the mode.
//   4. A further level at 30 % or more of the step is a second on-level (an oven with two elements); below
//   that
//      the off level moves. The reference lies half way to the lowest on-level.
//   5. One level, not two, when: the step is under `min_step_fraction` of the larger magnitude; or under four
//      digits of the meter, two when nothing lies between (the digit is the resolution, or else the smallest
//      change in a series of more than eight distinct values; logic 0 and 1 escape this); or the high level
//      is under 40 % of `dead_below`; or there is no valley between the groups (noise, a ramp).
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "switchwright/cycle/histogram.hpp"
#include "switchwright/cycle/settings.hpp"

namespace switchwright {

enum class LevelCount { none, one, two };

struct StateLevels {
  LevelCount count = LevelCount::none;
  double low = 0.0;                 ///< with two; the only level with one
  double high = 0.0;                ///< with two: the fullest on-level
  double lowest_high = 0.0;         ///< with two: the lowest on-level; equals `high` unless there are several
  bool high_is_over_range = false;  ///< the high state is never a number (a contact on ohms): `high` is not to be shown
  bool dead = false;                ///< with one: the level is below the dead limit
  bool single_sample_pulses = false;  ///< the second level is never held for two samples: sampled too coarsely
  std::string why_one;                ///< with one, when a second level was considered: the rule that rejected it

  double step() const { return lowest_high - low; }
  double reference() const { return low + 0.5 * step(); }  ///< the 50 % reference level
};

/// How much neighbouring samples differ, in the unit of the series.
struct Changes {
  double smallest = 0.0;         ///< smallest change that is not zero; 0 unknown
  double within_plateaus = 0.0;  ///< mean change between neighbours that belong to one plateau: the noise
};

/// Levels of a histogram. `over_range_held` counts over-range samples that follow another one.
StateLevels find_levels(const std::vector<AdaptiveHistogram::Bin>& bins, const Changes& changes,
                        std::uint64_t over_range_held, const CycleSettings& settings);

}  // namespace switchwright
