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

#include "switchwright/judge/finding.hpp"
#include "switchwright/judge/judge.hpp"
#include "switchwright/meter/definition.hpp"
#include "switchwright/profile/powered.hpp"

namespace switchwright {

/// One settled voltage at its place.
struct MeasuredVoltage {
  std::string position;
  Pair pair;
  Indication indication;
  int placement = 0;            ///< counts up whenever a probe moves
  bool contact_stated = false;  ///< the operator or the fixture states that both probes touch and the supply is on
  bool given_up = false;        ///< the placement was started again, here or in a later sitting: it stands for nothing
};

/// The supply as the meter read it; the same readings prove the meter on AC volts before and after the rest.
struct SupplyReadings {
  std::optional<Indication> at_start;
  std::optional<Indication> at_end;
};

/// The bond of one piece of exposed metal to the supply's earth, in ohms with the supply off, before and after the rest.
struct BondReadings {
  std::string metal;
  std::optional<Indication> before;
  std::optional<Indication> after;
};
struct BondFinding {
  Outcome outcome = Outcome::undecided;
  std::string sentence;
};
/// pass: U below the profile's bond_max_ohm, leads included. A bond belongs to the bench: it never fails the part.
BondFinding judge_bond(const std::string& metal, const Indication& indication, const Profile& profile,
                       const MeterDefinition& meter, const JudgeSettings& settings);

/// What else is known when one voltage is judged.
struct VoltageContext {
  std::optional<double> supply_v;  ///< as it was read when it was switched on
  /// A reading of no voltage is also what a probe off the metal gives, or a supply that is off. `missing` makes it
  /// undecided.
  Witness witness = Witness::not_needed;
};

/// What shows that a reading without volts means something: another position gave the supply's volts with the probes left
/// in place, or somebody states it.
Witness witness_of(const MeasuredVoltage& reading, const std::vector<MeasuredVoltage>& all,
                   const std::vector<VoltageExpectation>& expected, const Profile& profile);

/// Judges one settled AC voltage. A meter without accuracy rows for AC volts, or with a low battery, decides nothing.
VoltageFinding judge_voltage(const VoltageExpectation& expected, const Indication& indication, const Profile& profile,
                             const MeterDefinition& meter, const JudgeSettings& settings,
                             const VoltageContext& context = {});
/// The supply's volts must stand somewhere. Volts that are missing fail the part only where, at the same position, another
/// pair has more than it should; else the supply may have been missing, and the finding becomes undecided.
void excuse_missing_volts(std::vector<VoltageFinding>& findings);
/// Is the supply inside the range that the profile gives? `when` is a word for the sentence ("at the start").
/// Kinds: dead, low_voltage, out_of_band (too high). @throws Error(usage) without a [powered] part.
VoltageFinding judge_supply(const Indication& indication, const std::string& when, const Profile& profile,
                            const MeterDefinition& meter, const JudgeSettings& settings);

/// Judges everything measured under power; the last attempt at each (position, pair) counts. The scope's voltages: fail
/// when any voltage fails; undecided when any is undecided or not measured, when the supply was not read at both ends or
/// is not known to be right (in its range, and to earth what the profile says, at every position), or when a bond is not
/// proven before and after; else pass. By a wrong supply nothing fails: what deviates is undecided, and a remark says what
/// stood live.
Verdict judge_voltages(const Profile& profile, const std::vector<VoltageExpectation>& expected,
                       const std::vector<MeasuredVoltage>& measured, const SupplyReadings& supply,
                       const MeterDefinition& meter, const JudgeSettings& settings,
                       const std::vector<BondReadings>& bonds = {});

/// One verdict over the parts of one job: everything found, and the outcome that follows from the scope of both.
Verdict joined(Verdict continuity, Verdict powered);

/// What this meter cannot decide about voltages, one plain sentence each; said before the work starts.
std::vector<std::string> undecidable_voltages(const Profile& profile, const MeterDefinition& meter, double k = 2.0);

}  // namespace switchwright
