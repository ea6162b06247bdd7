// What a resistance does in a contact: the heat, at the current that this contact carries. One place, so that no two
// figures of a report can differ.
#pragma once

#include <optional>
#include <string>

#include "switchwright/profile/profile.hpp"

namespace switchwright {

struct ContactHeat {
  double current_a = 0.0;  ///< through the contact
  bool rated = true;       ///< that current is the part's rated one
  bool choked = false;     ///< so much resistance that less than the contact's current is left of it
  double drop_v = 0.0;     ///< U = I R
  double heat_w = 0.0;     ///< P = I^2 R
};

/// At the current that the contact is made to carry (carried_a), through a load that draws it at the rated voltage: a
/// contact of some ohms is no small thing beside that load and leaves less. Absent where no current is known.
/// @param contact_ohm at least 0
std::optional<ContactHeat> contact_heat(const Profile& profile, const Contact& contact, double contact_ohm);

/// "At the rated 15 A", "At the 0.02 A that it carries", "In series with its load, where 13.7 A are left".
std::string current_words(const ContactHeat& heat);

/// The one contact between two terminals; nullptr when there is none, or more than one.
const Contact* contact_between(const Profile& profile, const Pair& pair);

}  // namespace switchwright
