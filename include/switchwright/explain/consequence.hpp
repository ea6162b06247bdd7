// What a cause means for the appliance and the people around it, and what to do: the profile's own words
// where it has some, general words worked out from its network where it has none, and the heat in a contact
// that resists.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "switchwright/explain/hypothesis.hpp"
#include "switchwright/profile/profile.hpp"

namespace switchwright {

/// @param others the library, for a part that is another one. Nothing for an element that the profile says
/// nothing about.
std::optional<Consequence> consequence_of(const Profile& profile, const std::vector<Profile>& others,
                                          const Cause& cause);

/// "At the rated 15 A, 0.3 ohm in one contact turn 67.5 W into heat (P = I^2 R) ...": the heat at the current that this
/// contact carries, and by Holm's relation the temperature of the spot where the contacts touch, as the upper bound that a
/// two-wire reading gives.
/// @param contact_ohm above 0. Empty for a profile without a rated current.
std::string heat_in_words(const Profile& profile, const Contact& contact, double contact_ohm);

}  // namespace switchwright
