// How a person says where the knob (or the door, the coil, the bulb) stands, and what to do to get it there. The
// profile's own words come first; without them the knob is turned.
#pragma once

#include <string>

#include "switchwright/profile/profile.hpp"

namespace switchwright {

/// The position's label, or its id where the profile has no words for it.
std::string position_label(const Profile& profile, const std::string& position);
/// "Knob at low", "Door closed": how it stands, first letter upper case, no full stop.
std::string stands_at(const Profile& profile, const std::string& position);
/// "At low", "With the door closed": where a reading was taken, for the beginning of a sentence.
std::string taken_at(const Profile& profile, const std::string& position);
/// "Turn the knob to low.", "Warm the bulb above the setting. Caution: never with a flame."
std::string go_to(const Profile& profile, const std::string& position);
/// Seconds that it takes to get from one position to another beyond turning the knob: warming, cooling, a coil's supply.
double change_s(const Profile& profile, const std::string& from, const std::string& to);

}  // namespace switchwright
