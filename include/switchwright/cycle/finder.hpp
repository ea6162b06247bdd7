// Pass two: samples and known levels -> edges -> dwells -> complete cycles. Constant memory.
//
// Edge: the state changes when a sample passes the 50 % reference by a tenth of the step (hysteresis); the
// instant is in the middle of the two samples that straddle the reference. It is interpolated only where both
// of them lie between the 10 % and 90 % levels, that is where the series shows the transition itself; one
// lone intermediate sample (an averaging meter caught in the act) says only that the edge is near. Dwell: the
// time between two edges. One below the minimum dwell, or of a single sample, is a blip and joins its neighbours
// into one dwell; where no dwell of that state is longer than three samples, single samples are its dwells.
// Cycle: an on dwell and the off dwell after it. Incomplete when an edge lies in a gap, or a gap in it is as
// long as the shortest dwell, so that a whole excursion could hide.
#pragma once

#include <cstdint>
#include <optional>
#include <vector>

#include "switchwright/cycle/cycle.hpp"
#include "switchwright/cycle/settings.hpp"
#include "switchwright/cycle/survey.hpp"
#include "switchwright/cycle/timeline.hpp"

namespace switchwright {

/// Thread rule: one thread at a time. The listener must outlive the finder.
class CycleFinder {
 public:
  CycleFinder(const SurveyResult& survey, const CycleSettings& settings, CycleListener& listener);

  void feed(const Sample& sample);
  /// The series ended here: what was waiting for more is decided.
  void finish();

  /// Live streams only: levels have become better known.
  void retune(const SurveyResult& survey);

  std::uint64_t gaps() const { return gaps_; }
  double longest_gap_s() const { return longest_gap_s_; }
  std::uint64_t blips() const { return blips_; }
  std::uint64_t incomplete() const { return incomplete_; }
  std::uint64_t single_sample_dwells() const { return single_sample_dwells_; }
  std::uint64_t dwells() const { return dwells_; }  ///< accepted, between two edges
  std::uint64_t edges() const { return edges_; }    ///< accepted
  std::optional<bool> high_now() const;             ///< the present state, when known
  /// The state in which most samples so far were: what a series without an accepted edge amounts to.
  bool mostly_high() const { return 2 * high_samples_ > state_samples_; }
  double in_state_since_s() const { return current_.start.t_s; }
  /// The minimum dwell in force, s; nothing while it is still being found.
  std::optional<double> min_dwell_s() const { return min_dwell_s_; }
  /// The longest dwell of this state that the gaps leave possible, s: from the last sample before to the first after that is known
  /// to be of the other state. 0: no gap leaves one. Dwells that the record cuts off are not in it.
  double longest_possible_s(bool high) const { return longest_possible_s_[high ? 1 : 0]; }
  /// Longest gap in the dwell that goes on, or went on to the end: an excursion may hide in it.
  double longest_gap_in_last_dwell_s() const { return have_state_ ? current_.longest_gap_s : last_gap_s_; }

 private:
  struct Dwell {
    bool high = false;
    bool from_start = false;  ///< began before the series did
    bool to_end = false;      ///< went on after it
    Edge start;
    Edge end;
    std::uint64_t samples = 0;
    double longest_gap_s = 0.0;
    int blips = 0;
    double length_s() const { return end.t_s - start.t_s; }
    bool whole() const { return !from_start && !to_end && start.certain && end.certain; }
  };

  void set_levels(const SurveyResult& survey);
  void take(const TimedSample& sample);
  void change_state(bool high);
  void dwell_ended(const Dwell& dwell);
  bool single_samples_are_dwells() const;
  void calibrate();
  bool is_blip(const Dwell& dwell) const;
  void sift(const Dwell& dwell);
  void accept(const Dwell& dwell);
  void finish_cycle(const Dwell& on, const Dwell& off);
  void weigh_gaps(const Dwell& dwell);

  CycleSettings settings_;
  CycleListener& listener_;
  Timeline timeline_;
  double reference_ = 0.0, up_ = 0.0, down_ = 0.0, ten_ = 0.0, ninety_ = 0.0;
  double interval_s_ = 0.0;
  double update_s_ = 0.0;
  double gap_over_s_ = 0.0;
  bool two_levels_ = false;

  bool have_state_ = false;
  Dwell current_;
  double previous_value_ = 0.0;
  double previous_t_s_ = 0.0;
  Edge crossing_;
  double gap_since_crossing_s_ = 0.0;
  double burst_after_gap_s_ = 0.0;  ///< what waited through a gap and came at once has no time of its own
  bool in_over_range_ = false;

  std::optional<double> min_dwell_s_;
  bool single_sample_is_blip_ = true;
  std::vector<Dwell> waiting_;  ///< until the minimum dwell is known
  std::optional<Dwell> last_;   ///< accepted, may still be extended across a blip
  bool join_next_ = false;
  std::optional<Dwell> on_;  ///< the on dwell of the cycle that is being built
  double shortest_dwell_s_;
  double last_cycle_end_s_;

  double longest_gap_s_ = 0.0;
  double last_gap_s_ = 0.0;
  double longest_possible_s_[2] = {0.0, 0.0};
  std::uint64_t gaps_ = 0, blips_ = 0, incomplete_ = 0, single_sample_dwells_ = 0, dwells_ = 0, edges_ = 0;
  std::uint64_t cycles_ = 0, high_samples_ = 0, state_samples_ = 0;
};

}  // namespace switchwright
