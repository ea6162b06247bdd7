// What a series of cycles amounts to, with the uncertainty of every figure.
//
// Uncertainty of a mean (JCGM 100): type A from the spread, widened for neighbours that are alike
// (type_a_of_mean); type B = sampling and clock. Each reference instant is rectangular between the samples that
// straddle it, or within one update of a meter that holds its display longer than that: u = dt / sqrt(12); an on
// or off time has two of them, dt / sqrt(6). For on, off and duty this part is not divided by sqrt(n): the phase
// between sampling and cycling need not drift. The mean period of a run of n cycles is its two end instants
// divided by n, so there it is sqrt(runs) dt sqrt(2) / (n sqrt(12)). The clock's relative limit of error is
// rectangular; duty does not depend on it. U = k u with Student's k for the effective degrees of freedom
// (Welch-Satterthwaite, JCGM 100 G.4) at coverage_of_U. One cycle has no spread: its U is for that cycle alone.
#pragma once

#include <cstdint>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "switchwright/cycle/cycle.hpp"
#include "switchwright/cycle/settings.hpp"
#include "switchwright/cycle/statistics.hpp"
#include "switchwright/cycle/survey.hpp"

namespace switchwright {

/// Statistics of one quantity over cycles. Absent is absent, never 0.
struct Figure {
  std::optional<double> mean, sd, median, min, max;
  std::optional<double> U;            ///< expanded uncertainty of the mean; with one cycle: of that cycle
  std::optional<double> k;            ///< coverage factor of U
  std::optional<double> u_type_a;     ///< from the spread, widened for neighbours that are alike
  std::optional<double> n_effective;  ///< so many independent cycles would say as much
  std::optional<double> u_sampling;   ///< from the straddling samples
  std::optional<double> u_clock;      ///< absent for duty
  std::optional<double> nu_eff;       ///< absent when infinite
  std::optional<double> lag1;         ///< lag-1 autocorrelation
  std::optional<Trend> trend;         ///< over cycles, in order
  double median_error_bound = 0.0;    ///< 0: exact (up to MedianKeeper::exact_values cycles)
};

struct CycleFigures {
  std::uint64_t cycles = 0;
  double u_duration_s = 0.0;  ///< standard uncertainty of one on or off time: what its two instants leave open
  Figure on_s, off_s, period_s, duty;
};

enum class ChannelState { cycling, always_on, always_off, unknown };
std::string to_string(ChannelState state);  ///< "cycling", "always-on", "always-off", "unknown"

struct CycleSummary {
  std::uint64_t samples = 0;
  std::uint64_t gaps = 0;
  double longest_gap_s = 0.0;  ///< infinite where the clock was set
  std::uint64_t blips = 0;
  std::uint64_t incomplete_cycles = 0;
  std::uint64_t complete_cycles = 0;
  std::uint64_t flagged_cycles = 0;  ///< complete, with a short gap inside
  std::uint64_t edges = 0;           ///< switching operations seen
  std::uint64_t duplicate_stamps = 0;
  std::uint64_t out_of_order_stamps = 0;
  std::uint64_t clock_steps = 0;
  std::uint64_t over_range = 0;
  double first_s = 0.0;
  double last_s = 0.0;
  std::optional<bool> high_at_end;    ///< the state in which the series ends, with two levels
  double last_change_s = 0.0;         ///< when that state began (the first sample when it never changed)
  std::optional<bool> high_at_start;  ///< the state in which the series begins, with two levels and an edge
  double first_change_s = 0.0;        ///< when that state ended
  double longest_gap_in_last_dwell_s = 0.0;
  double possible_on_s = 0.0, possible_off_s = 0.0;  ///< the longest that gaps leave possible; 0: none does
  std::optional<double> interval_s;                  ///< median sampling interval
  /// The meter's display stands still for this long between two updates, when that is longer than the sampling.
  std::optional<double> update_s;
  std::optional<double> gap_over_s;
  std::optional<double> min_dwell_s;  ///< shorter excursions were blips
  std::optional<double> low_level, high_level, reference_level;
  std::optional<double> second_on_level;  ///< the lowest on-level, when there are several
  /// Of values that lasted, two levels given: the lowest that counts as on, the highest that counts as off.
  std::optional<double> lowest_lasting_high, highest_lasting_low;
  ChannelState state = ChannelState::unknown;

  CycleFigures all;                                ///< every complete cycle; only what the sampling can know
  CycleFigures steady;                             ///< from `steady_from_cycle` on
  std::optional<std::uint64_t> steady_from_cycle;  ///< absent: under 4 cycles, or no steady part
  bool drifting = false;                           ///< a trend goes on through the later half

  bool trusted = true;               ///< false: "trust":"poor"; figures that are given hold within their U
  std::vector<std::string> reasons;  ///< why not, one sentence each
  std::vector<std::string> notes;    ///< what the reader should know, one sentence each

  double duration_s() const { return last_s - first_s; }
  /// Dwells that the record cuts off: at least this long.
  double last_dwell_s() const { return last_s - last_change_s; }
  double first_dwell_s() const { return first_change_s - first_s; }
};

/// Collects cycles into figures. Memory is bounded: the first MedianKeeper::exact_values cycles are kept to
/// find the steady part; later cycles join it.
class Summarizer {
 public:
  explicit Summarizer(const CycleSettings& settings = {});
  ~Summarizer();
  Summarizer(Summarizer&&) noexcept;
  Summarizer& operator=(Summarizer&&) noexcept;

  void add(const Cycle& cycle);
  /// Fills cycles, figures, steady part and drift; may be asked while cycles still come. `quick` leaves out
  /// trends and the steady part, whose cost grows with the square of the cycles: for a live view.
  void report(CycleSummary& summary, bool quick = false) const;

 private:
  struct Impl;
  std::unique_ptr<Impl> impl_;
};

/// First cycle (0-based) from which on and off times are steady: the first four agree with the median of the
/// later half within 3 scaled median absolute deviations, 3 sampling uncertainties or 5 %, and what follows
/// shows no trend (Mann-Kendall p < 0.01 with a change above 2 % or the sampling). Nothing when there are
/// fewer than 4 cycles or the steady part would be less than half.
struct SteadyPart {
  std::optional<std::size_t> from;
  bool drifting = false;
};
SteadyPart find_steady(const std::vector<double>& on_s, const std::vector<double>& off_s, double u_duration_s);

}  // namespace switchwright
