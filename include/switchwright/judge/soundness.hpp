// Which contacts the readings prove sound, which not, and which nobody can tell.
//
// A reading speaks of the whole path between two terminals. It proves a contact unsound when it is more than the path can
// have with every contact at its own limit (Finding::sound). It proves one contact sound when it is less than the path
// would have with this contact at its limit and all else at its least: the resistance between two terminals never falls
// when a resistor of the network rises (Rayleigh). So a contact that others bridge is never called sound, and the loose
// limit of a pilot contact hides nothing in series with it.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "switchwright/judge/conformance.hpp"
#include "switchwright/judge/finding.hpp"
#include "switchwright/profile/profile.hpp"

namespace switchwright {

struct ContactSoundness {
  std::string contact;
  double limit_ohm = 0.0;
  Decided decided = Decided::undecided;
  std::optional<double> best_U_ohm;       ///< of the readings that could show it; absent: there is none
  std::vector<std::string> undecided_at;  ///< positions with a reading that does not tell
  std::vector<std::string> not_read_at;   ///< positions without a reading that could tell
};

/// Every contact of the part at every position where it conducts; with `only_at`, at that position alone.
std::vector<ContactSoundness> soundness_of(const Profile& profile, const std::vector<Finding>& findings,
                                           DecisionRule rule, const std::string& only_at = {});

/// The same as one item of a verdict's scope.
ScopeItem soundness_item(const Profile& profile, const std::vector<Finding>& findings, DecisionRule rule,
                         const std::string& only_at = {});

}  // namespace switchwright
