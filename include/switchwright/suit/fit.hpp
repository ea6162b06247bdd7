// Does a part suit an application? Current, voltage, the heater on a supply it was not made for, heat in the contacts,
// push-on terminals. Each figure carries its formula and where that is from, and says what it does not cover.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "switchwright/judge/finding.hpp"
#include "switchwright/profile/profile.hpp"

namespace switchwright {

/// A resistive load: by power at a voltage, by current (at a voltage or at the supply), or by its resistance.
struct FitLoad {
  std::optional<double> power_w;
  std::optional<double> at_v;  ///< the voltage that `power_w` or `current_a` is given at; absent: the supply
  std::optional<double> current_a;
  std::optional<double> ohm;
};
/// Reads POWER@VOLTAGE ("2800W@240", "2.8 kW @ 240 V"), AMPS ("10A", "10A@240") or OHMS ("21ohm"). @throws Error(usage).
FitLoad parse_load(const std::string& text);
/// The load's resistance. @throws Error(usage) for amperes without a voltage.
double ohm_of(const FitLoad& load);

/// A contact's resistance as measured on the part, leads subtracted.
struct MeasuredContact {
  std::string contact;
  std::string position;
  double ohm = 0.0;
  double U_ohm = 0.0;
};
/// The contacts that a verdict has a reading of their own for: the pair is the contact's, closed by it alone. The
/// highest reading of each counts.
std::vector<MeasuredContact> measured_contacts(const Profile& profile, const Verdict& verdict);

struct FitRequest {
  double supply_v = 0.0;  ///< rms
  FitLoad load;
  std::vector<MeasuredContact> contacts;  ///< from a record; may be empty
  std::string record;                     ///< its id
  std::optional<Outcome> record_outcome;  ///< what the record says of the part
  std::string record_title;               ///< its verdict with its scope, "Pass for continuity, soundness not decided"
  std::optional<int> awg;                 ///< with tab_inch
  std::optional<double> tab_inch;
};

/// One thing looked at.
struct FitFigure {
  std::string id;     ///< "current", "element-power:heater", "duty:low", ...
  std::string words;  ///< one plain sentence with the figure in it
  double value = 0.0;
  std::string unit;             ///< "A", "V", "W", "1"
  std::optional<double> limit;  ///< in the same unit
  std::string formula;
  std::string source;
  std::string not_covered;         ///< what this figure does not say
  std::optional<Outcome> outcome;  ///< absent: for information, decides nothing
};

struct Fit {
  Outcome outcome = Outcome::undecided;  ///< pass: it suits; fail: it does not; undecided: cannot say
  double current_a = 0.0;
  std::vector<FitFigure> figures;
  std::vector<std::string> not_covered;  ///< what nobody looked at
  std::string headline;
};

/// Thread rule: pure. @throws Error(usage) for a supply or load that cannot be.
Fit fit(const Profile& profile, const FitRequest& request);

}  // namespace switchwright
