// A recorded trace against a profile: the load's timing against its limits, the pilot that must stay as it
// is, the line that must stay in its range, and what a voltage or a heater of another kind would explain.
//
// What each channel should do at a position follows from the profile's network with its supply and loads
// (profile/powered.hpp); without a [powered] part it follows from the contacts alone.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "switchwright/judge/channel_role.hpp"
#include "switchwright/judge/finding.hpp"
#include "switchwright/judge/timing.hpp"
#include "switchwright/profile/profile.hpp"

namespace switchwright {

/// What is known about the conditions of a trace; absent is not known.
struct CyclingConditions {
  std::optional<double> supply_v;  ///< as stated by the operator; a line channel counts for more
  std::optional<double> load_ohm;  ///< as stated by the operator
  DecisionRule rule = DecisionRule::guarded;
  ScopeParts required = {};  ///< what must be decided for a pass
  /// From the beginning of the record to its end, where that is more than the channels have.
  std::optional<Interval> span_s = {};
};

/// One channel of a trace. The summary must outlive the judgement's making only.
struct CyclingChannel {
  std::string name;
  const CycleSummary* summary = nullptr;
  std::optional<double> min, max;  ///< of the finite samples
  std::optional<double> U_v;       ///< expanded uncertainty of the on-level, when the meter is known
  bool voltage = true;             ///< false: the channel is not in volts, so its level is not the supply
  /// Root mean square over the whole trace: what a heater across the supply feels while the line moves. Absent: the
  /// level counts.
  std::optional<double> rms = std::nullopt;
  std::optional<ChannelRole> role = std::nullopt;  ///< as stated; absent: as the name says (role_of_name)
  bool volts_said = false;                         ///< the unit is volts for certain, not for want of another
  std::string unit = {};                           ///< as said ("V", "A", "ohm"); empty when none is
};
/// From the values of a series and how often each came; nothing without any.
std::optional<double> rms_of(const std::vector<AdaptiveHistogram::Bin>& values);

/// What was found on a channel other than the timing of the load.
struct ChannelFinding {
  std::string channel;
  ChannelRole role = ChannelRole::other;
  Outcome outcome = Outcome::undecided;
  /// "dead", "live", "interrupted", "out-of-range", "drops", "too-high", "never-dead", "below-zero", "stated-supply",
  /// "over-range", "unit", "not-recorded"; empty when it passes
  std::string word;
  std::string sentence;
};

struct CyclingJudgement {
  Outcome outcome = Outcome::undecided;  ///< follows from the scope
  Scope scope;                           ///< timing, and nothing else
  ScopeParts required;                   ///< of the conditions
  std::string headline;
  std::string load_channel;  ///< empty: no channel is the load
  std::string expected;      ///< what the load should do at this position, in words
  std::optional<TimingJudgement> timing;
  std::vector<ChannelFinding> findings;
  std::vector<std::string> remarks;
  std::optional<double> supply_v;  ///< the voltage that was used, and
  std::string supply_from;         ///< "measured on line", "stated", or empty
  HeaterKind heater = HeaterKind::unknown;
};

/// Timing limits of the profile at a position; empty when it has none.
TimingLimits timing_limits(const Profile& profile, const std::string& position);
/// What the load should do there and with which supply, as far as it is known before the first sample.
/// @param load of several: which one; null: any
TimingConditions expected_timing(const Profile& profile, const std::string& position,
                                 const CyclingConditions& conditions, const PoweredLoad* load = nullptr);

/// Judges all channels at one position. @throws Error(usage) for a position that the profile does not have.
CyclingJudgement judge_cycling(const Profile& profile, const std::string& position,
                               const std::vector<CyclingChannel>& channels, const CyclingConditions& conditions = {});

/// How the bimetal's heater lies in the circuit: a heater that would take less than a tenth of the rated
/// current at rated voltage can only lie across the supply; one that would drop less than a tenth of the
/// rated voltage at rated current can only carry the load.
HeaterKind heater_kind(const Profile& profile, const std::string& position);

}  // namespace switchwright
