// Plain words for findings: positions, readings and limits as a person says them.
#pragma once

#include <string>

#include "switchwright/profile/expectation.hpp"
#include "switchwright/profile/profile.hpp"

namespace switchwright::wording {

/// "off": the position's label, or its id where the profile has no words for it.
std::string place(const Profile& profile, const std::string& position);
/// A value at the display's resolution, leads subtracted: "0.3 ohm".
std::string ohm(double value, double resolution);
/// An uncertainty with two significant figures (JCGM 100 7.2.6): "0.58 ohm".
std::string two_figures_ohm(double U);
/// "open (at least 1 Mohm)", "closed (at most 2 ohm)", "between 12.24 kohm and 16.56 kohm".
std::string must_be(const Expectation& expected);
/// "1 reading", "3 readings".
std::string count_of(std::size_t count, const std::string& noun);
/// First letter upper case, ASCII.
std::string capitalised(std::string text);

}  // namespace switchwright::wording
