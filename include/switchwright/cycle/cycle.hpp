// Edges, cycles and what else happens on the way.
#pragma once

#include <cstdint>
#include <optional>
#include <string>

namespace switchwright {

/// One complete cycle, from a rising 50 % reference instant to the next. period_s = on_s + off_s exactly.
struct Cycle {
  std::uint64_t index = 0;  ///< counts complete cycles from 1
  double start_s = 0.0;     ///< rising reference instant on the axis of the samples
  double on_s = 0.0;        ///< pulse duration
  double off_s = 0.0;       ///< pulse separation
  double period_s = 0.0;
  double duty = 0.0;             ///< on_s / period_s
  double rise_interval_s = 0.0;  ///< the two samples that straddle each reference instant are this far apart
  double fall_interval_s = 0.0;
  double next_rise_interval_s = 0.0;
  int blips = 0;            ///< excursions below the minimum dwell inside this cycle
  bool has_gap = false;     ///< a gap too short to hide an excursion lies inside: kept, and flagged
  bool follows_on = false;  ///< starts where the complete cycle before it ended
};

enum class CycleEventKind {
  gap,         ///< no sample for longer than sampling explains
  clock_step,  ///< the clock that stamped the samples was set back
  blip,        ///< an excursion below the minimum dwell
  over_range,  ///< a run of samples beyond the meter's range
  incomplete,  ///< a cycle that cannot be counted: an edge or an excursion may lie in a gap
};
std::string to_string(CycleEventKind kind);  ///< "gap", "clock-step", "blip", "over-range", "incomplete-cycle"

struct CycleEvent {
  CycleEventKind kind = CycleEventKind::gap;
  double t_s = 0.0;         ///< when it began
  double duration_s = 0.0;  ///< 0 when not known
  bool high = false;        ///< blip: the excursion went high; gap: the state before it
};

/// A 50 % reference instant.
struct Edge {
  double t_s = 0.0;
  double interval_s = 0.0;  ///< the straddling samples are this far apart; the instant is rectangular in it
  bool rising = false;
  bool certain = true;        ///< false: it lies in a gap
  bool interpolated = false;  ///< both straddling samples lie between 10 % and 90 %
};

/// Hears of everything in the order of time. Cycles come one dwell late, since an excursion may prove a blip.
class CycleListener {
 public:
  virtual ~CycleListener() = default;
  virtual void on_cycle(const Cycle&) {}
  virtual void on_event(const CycleEvent&) {}
  /// Accepted edges: those of blips are left out.
  virtual void on_edge(const Edge&) {}
  /// Live streams only: the levels were mistaken at first. Forget everything heard; it comes again, as far as
  /// it is kept.
  virtual void on_restart() {}
};

}  // namespace switchwright
