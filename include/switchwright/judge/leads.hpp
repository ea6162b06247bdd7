// The two leads of a two-wire measurement: what is subtracted for them, what is doubtful about it, and when they are
// refused.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "switchwright/judge/indication.hpp"
#include "switchwright/meter/definition.hpp"

namespace switchwright {

/// Good leads have 0.1 to 0.3 ohm; beyond this a plug is loose, a tip is dirty, or the probes did not touch well when
/// they were held together (common practice, no source). What is subtracted too much hides a bad contact.
inline constexpr double most_lead_ohm = 0.5;

/// Lead resistance, measured with the probes shorted, before and (when known) after.
struct Leads {
  std::optional<Indication> before = {};
  std::optional<Indication> after = {};
  std::vector<Indication> between = {};  ///< those of further sittings
  /// A plan is judged, not a part: the leads are taken as subtracted without error.
  bool ideal = false;
  /// With the probes held apart; asked for where no reading of the part shows that the tips do not touch each other.
  std::optional<Indication> apart = {};

  /// Those that gave a value, in the order taken. An over-range one is a broken lead, no lead resistance.
  std::vector<const Indication*> known() const;
  /// What is subtracted: the mean of what is known; 0 when nothing is known. Negative where the meter's zero is.
  double correction_ohm() const;
  /// The same with the meter's calibration corrections applied to the lead readings first.
  double correction_ohm(const MeterDefinition& meter) const;
  /// Largest less smallest of what is known; 0 when there are not two.
  double drift_ohm() const;
};

enum class LeadFault {
  none,
  not_measured,   ///< neither before nor after
  measured_once,  ///< drift is not known
  open,           ///< over-range with the probes together
  too_high,
  negative,  ///< below zero by more than U: a wrong zero, or a voltage
  drifted,
};

/// What the lead readings amount to.
struct LeadsJudged {
  LeadFault fault = LeadFault::none;
  /// The part cannot pass on two-wire readings with such leads.
  bool refused = false;
  /// How far from correction_ohm() the leads may have been, beyond what U covers; added to U of every two-wire reading.
  double doubt_ohm = 0.0;
  std::string sentence;  ///< what, and what to do; empty when there is nothing to say
};
LeadsJudged judge_leads(const Leads& leads, const MeterDefinition& meter, double k = 2.0);

/// Why this lead reading cannot be worked with, and what to do; nothing when it can. `earlier` are lead readings of the
/// same work, from which it may not have drifted.
std::optional<std::string> lead_objection(const Indication& lead, const Leads& earlier, const MeterDefinition& meter,
                                          double k = 2.0);

}  // namespace switchwright
