// Voltages under power against what the network says they should be.
//
// The decision rule is the one for resistances (JCGM 106), applied to bands: where a contact cycles, a pair is
// right in either of its bands, and a reading fails only when it is outside all of them.
//
// Severity (defect classes of MIL-STD-105E): critical where the load or exposed metal is live and must not be;
// major otherwise.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "switchwright/meter/definition.hpp"
#include "switchwright/profile/powered.hpp"
#include "switchwright/judge/finding.hpp"
#include "switchwright/judge/judge.hpp"

namespace switchwright {

/// One settled voltage at its place.
struct MeasuredVoltage {
  std::string position;
  Pair pair;
  Indication indication;
};

/// The supply as the meter read it; the same readings prove the meter on AC volts before and after the rest.
struct SupplyReadings {
  std::optional<Indication> at_start;
  std::optional<Indication> at_end;
};

/// Judges one settled AC voltage.
VoltageFinding judge_voltage(const VoltageExpectation& expected, const Indication& indication, const Profile& profile,
                             const MeterDefinition& meter, const JudgeSettings& settings);
/// Is the supply inside the range that the profile gives? `when` is a word for the sentence ("at the start").
/// Kinds: dead, low_voltage, out_of_band (too high). @throws Error(usage) without a [powered] part.
VoltageFinding judge_supply(const Indication& indication, const std::string& when, const Profile& profile,
                            const MeterDefinition& meter, const JudgeSettings& settings);

/// Judges everything measured under power; the last attempt at each (position, pair) counts. The scope's voltages: fail
/// when any voltage fails; undecided when any is undecided or not measured, or when the supply was not read or is not known to
/// be in its range; else pass. While the supply is out of its range a voltage that is too low or too high is
/// undecided: it may be the supply's fault.
Verdict judge_voltages(const Profile& profile, const std::vector<VoltageExpectation>& expected,
                       const std::vector<MeasuredVoltage>& measured, const SupplyReadings& supply,
                       const MeterDefinition& meter, const JudgeSettings& settings);

/// One verdict over the parts of one job: everything found, and the outcome that follows from the scope of both.
Verdict joined(Verdict continuity, Verdict powered);

/// What this meter cannot decide about voltages, one plain sentence each; said before the work starts.
std::vector<std::string> undecidable_voltages(const Profile& profile, const MeterDefinition& meter, double k = 2.0);

}  // namespace switchwright
