// What a reading of a part that is still wired cannot say.
#pragma once

#include <vector>

#include "switchwright/judge/finding.hpp"

namespace switchwright {

/// A path outside that the profile does not know makes a pair read lower; a load that is open, or whose connector is loose, makes
/// one read higher. Neither is a fault of the part: what would fail for such a reason is undecided, with the connector to pull.
/// A closed path of the part's own contacts that reads too much fails as ever: no path outside adds resistance.
void doubt_for_wiring(const Profile& profile, Finding& finding);

/// Contacts of which no reading that passed says that they can be open: a path outside could stand in for them. A clause each.
std::vector<std::string> masked_contacts(const Profile& profile, const std::vector<Finding>& findings);

}  // namespace switchwright
