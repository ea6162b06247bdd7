// What a sound contact of a part has at most. A maker's sheet gives a drop, in millivolts at the current that the contact
// is made for; ohms follow from it (U = I R), contact by contact: a pilot contact of milliamperes may have an ohm where a
// contact of the load must have a few milliohms.
#pragma once

#include <optional>
#include <string>

#include "switchwright/profile/profile.hpp"

namespace switchwright {

/// The current that a contact is made to carry, A: its own `current_a`; else, where the powered circuit shows that it
/// feeds a lamp and no load, the lamp's current; else the rated current. 0: not known.
double carried_a(const Profile& profile, const Contact& contact);

/// The drop that a sound contact has at most at that current, V: its own `sound_max_mv`, or that of [limits]. A profile
/// with `sound_max_ohm` means the drop of so many ohms at the rated current. Absent without any current.
std::optional<double> sound_max_v(const Profile& profile, const Contact& contact);

/// The same in ohms; never more than the closed limit. @throws std::out_of_range for a name the profile does not have.
double sound_max_ohm(const Profile& profile, const Contact& contact);
double sound_max_ohm(const Profile& profile, const std::string& contact);

/// The smallest of all contacts; what a meter must resolve to decide about every one. Infinite without contacts.
double strictest_sound_ohm(const Profile& profile);

}  // namespace switchwright
