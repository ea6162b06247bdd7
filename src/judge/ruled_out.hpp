// Which single faults the readings that passed rule out, by the network alone.
#pragma once

#include <string>
#include <vector>

#include "switchwright/judge/finding.hpp"

namespace switchwright {

/// Contacts and elements of which no reading that passed says that they work: with the fault every one of them would lie
/// inside its limits too. Two contacts side by side, a pair that the profile leaves out, a contact that it closes everywhere.
/// A clause each. A part that is still wired has rules of its own (judge/wired.hpp).
std::vector<std::string> not_ruled_out(const Profile& profile, const std::vector<Finding>& findings);

}  // namespace switchwright
