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
  HeaterKind heater = HeaterKind::unknown;
  bool guarded = true;           ///< guard band U each side (JCGM 106); false: simple acceptance
  bool cycling_expected = true;  ///< false at positions where the contact should stay as it is
  bool closed_expected = true;   ///< with !cycling_expected: on (the highest setting) or off (OFF)
  /// Rated voltages to try in the voltage-version check; those of common practice when empty.
  std::vector<double> voltage_versions_v = {};
};

enum class TimingOutcome { pass, fail, undecided };
std::string to_string(TimingOutcome outcome);  ///< "pass", "fail", "undecided"

/// One figure against its limits.
struct TimingFinding {
  std::string quantity;            ///< "on time", "off time", "period", "duty"
  std::string unit;                ///< "s" or "" for duty
  double value = 0.0;              ///< as judged: at rated voltage when `normalized`
  std::optional<double> measured;  ///< as measured, when that differs
  double U = 0.0;                  ///< expanded uncertainty of `value`, k = 2
  Interval limits;
  bool normalized = false;
  TimingOutcome outcome = TimingOutcome::undecided;
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
  TimingOutcome outcome = TimingOutcome::undecided;
  std::vector<TimingFinding> findings;
  std::vector<TimingFaultFinding> faults;
  std::optional<double> duty_at_rated;  ///< shunt and series with known conditions, at most 1
  bool saturated = false;  ///< the duty at rated conditions would be 1 or more, or was 1 as measured
  std::vector<VoltageVersion> versions;       ///< shunt heater and a measured voltage only
  std::optional<double> operations_per_hour;  ///< openings and closings
  std::optional<double> click_rate_per_min;   ///< N of CISPR 14-1: half the switching operations per minute
  std::vector<std::string> remarks;
  std::string headline;
};

/// At least this many complete cycles are recommended: 40 switching operations, after CISPR 14-1.
constexpr std::uint64_t recommended_cycles = 20;

/// Judges the steady figures when there is a steady part of at least 4 cycles, all cycles otherwise.
TimingJudgement judge_timing(const CycleSummary& summary, const TimingLimits& limits,
                             const TimingConditions& conditions = {});

/// Duty at rated voltage, not limited to 1: duty (V / V_rated)^2. @throws Error(usage) unless both voltages
/// are positive.
double duty_at_rated_voltage(double duty, double voltage_v, double rated_v);

/// First-order bimetal (reference: RC relaxation): seconds to go from `from` to `to` on the way to `toward`,
/// all in kelvin above ambient; nothing when it never gets there.
std::optional<double> thermal_time_s(double tau_s, double toward, double from, double to);

/// Which standard says how far the supply may lie from its nominal voltage.
enum class SupplyStandard {
  ansi_c84_1,  ///< range A, service voltage: 5 % either side (from memory)
  iec_60038,   ///< 10 % either side (from memory)
};
Interval supply_range_v(SupplyStandard standard, double nominal_v);

/// Lq of CISPR 14-1 for a click rate: dB above the continuous limit, 20 log10(30 / N) for 0.2 <= N < 30; 44
/// below, 0 above.
double click_relaxation_db(double click_rate_per_min);

}  // namespace switchwright
