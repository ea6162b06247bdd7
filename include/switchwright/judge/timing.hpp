// Does the measured cycling suit the part? Figures against timing limits, with a decision rule; the duty
// carried over to rated voltage; which rated voltage would explain what was seen; fault words.
//
// A regulator whose bimetal heater lies across the supply (shunt) gets heat in proportion to V^2, so its duty
// at another voltage is duty_rated = duty (V / V_rated)^2, and its off time does not depend on the voltage at
// all (first-order bimetal with a narrow band). Hence on_rated = off duty_rated / (1 - duty_rated). A duty of
// 1 is a bound only: the contact never opens at this voltage.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "switchwright/core/interval.hpp"
#include "switchwright/cycle/summary.hpp"
#include "switchwright/judge/finding.hpp"

namespace switchwright {

/// Limits at rated voltage; an absent interval is not limited.
struct TimingLimits {
  std::optional<Interval> on_s, off_s, period_s, duty;
};

enum class HeaterKind {
  unknown,
  shunt,   ///< across the supply: heat goes with the voltage squared
  series,  ///< carries the load current: heat goes with the current squared, and the right load is part of
           ///< the test
};

struct TimingConditions {
  std::optional<double> rated_voltage_v = {}, measured_voltage_v = {};
  std::optional<double> rated_current_a = {}, measured_current_a = {};  ///< for a series heater
  /// Expanded uncertainty of the measured voltage or current as a share of it: it enters what is carried to rated
  /// conditions, twice, since heat goes with the square.
  double measured_relative_U = 0.0;
  HeaterKind heater = HeaterKind::unknown;
  bool guarded = true;           ///< guard band U each side (JCGM 106); false: simple acceptance
  bool cycling_expected = true;  ///< false at positions where the contact should stay as it is
  bool closed_expected = true;   ///< with !cycling_expected: on (the highest setting) or off (OFF)
  /// The supply was seen live in this record, by a line channel, a lit pilot or the load itself. Without it a dead load
  /// says nothing about the contact.
  bool supply_seen = false;
  bool supply_live_throughout = false;              ///< from the first sample to the last
  bool part_cycles = false;                         ///< at this position or another
  std::optional<double> longest_period_s = {};      ///< of this part at any position
  std::optional<double> longest_off_s = {};         ///< likewise
  std::optional<double> shortest_excursion_s = {};  ///< at a standing position: how briefly this part could switch
  /// Rated voltages to try in the voltage-version check; those of common practice when empty.
  std::vector<double> voltage_versions_v = {};
};

/// One figure against its limits: the mean with its U, every single cycle, and the spread.
struct TimingFinding {
  std::string quantity;               ///< "on time", "off time", "period", "duty"
  std::string unit;                   ///< "s" or "" for duty
  double value = 0.0;                 ///< as judged: at rated voltage when `normalized`
  std::optional<double> measured;     ///< as measured, when that differs
  double U = 0.0;                     ///< expanded uncertainty of `value`
  std::optional<double> least, most;  ///< shortest and longest cycle, as measured
  Interval limits;
  bool normalized = false;
  Outcome outcome = Outcome::undecided;
  std::string sentence;
};

enum class TimingFault { never_opens, never_closes, stays_live, erratic, too_slow, too_fast, drifting };
std::string to_string(TimingFault fault);  ///< "never-opens", ...

struct TimingFaultFinding {
  TimingFault fault;
  std::string sentence;  ///< what was seen, what it may be, how to tell
};

struct VoltageVersion {
  double rated_voltage_v = 0.0;
  double duty = 0.0;  ///< what the measured duty amounts to at this rating
  double period_s = 0.0;
  bool fits = false;  ///< duty and period both lie inside the limits
};

struct TimingJudgement {
  Outcome outcome = Outcome::undecided;
  std::vector<TimingFinding> findings;
  std::vector<TimingFaultFinding> faults;
  std::optional<double> duty_at_rated;        ///< shunt and series with known conditions, at most 1
  bool saturated = false;                     ///< the duty at rated conditions would be 1 or more, or was 1 as measured
  std::vector<VoltageVersion> versions;       ///< shunt heater and a measured voltage only
  std::optional<double> operations_per_hour;  ///< openings and closings
  std::optional<double> click_rate_per_min;   ///< N of CISPR 14-1: half the switching operations per minute
  std::vector<std::string> remarks;
  std::string headline;
};

/// At least this many complete cycles are recommended: 40 switching operations, after CISPR 14-1.
constexpr std::uint64_t recommended_cycles = 20;
/// With fewer the timing may fail, but it cannot pass.
constexpr std::uint64_t least_cycles = 5;

/// Judges the steady figures when there is a steady part of at least `least_cycles`, all cycles otherwise. It passes
/// only where the mean, every cycle and the spread lie inside the limits, the last and the first dwell, which the
/// record cuts off, are not too long already, and there are at least `least_cycles`.
TimingJudgement judge_timing(const CycleSummary& summary, const TimingLimits& limits,
                             const TimingConditions& conditions = {});

/// The dwell that goes on just now, against its limit: what a person at the bench must hear at once.
/// @param seen figures so far. @return a sentence with the limit in it, or nothing while all is well.
std::optional<std::string> overdue(const TimingLimits& limits, const TimingConditions& conditions,
                                   const CycleFigures& seen, bool closed, double for_s);
/// How long such a dwell may last; absent where nothing should cycle.
std::optional<double> longest_dwell_s(const TimingLimits& limits, const TimingConditions& conditions,
                                      const CycleFigures& seen, bool closed);
/// "on 4 s to 25 s, off 8 s to 45 s": the limits in one line; empty when there are none.
std::string limits_words(const TimingLimits& limits);

/// Duty at rated voltage, not limited to 1: duty (V / V_rated)^2. @throws Error(usage) unless both voltages
/// are positive.
double duty_at_rated_voltage(double duty, double voltage_v, double rated_v);

/// First-order bimetal (reference: RC relaxation): seconds to go from `from` to `to` on the way to `toward`,
/// all in kelvin above ambient; nothing when it never gets there.
std::optional<double> thermal_time_s(double tau_s, double toward, double from, double to);

/// Lq of CISPR 14-1 for a click rate: dB above the continuous limit, 20 log10(30 / N) for 0.2 <= N < 30; 44
/// below, 0 above.
double click_relaxation_db(double click_rate_per_min);

}  // namespace switchwright
