// Plain words for voltages, beside those for resistances in wording.hpp.
#pragma once

#include <string>

#include "switchwright/profile/powered.hpp"

namespace switchwright::wording {

/// A value at the display's resolution: "240.3 V".
std::string volts(double value, double resolution);
/// An uncertainty with two significant figures (JCGM 100 7.2.6): "3.4 V".
std::string two_figures_volts(double U);
/// "live (228 V to 252 V)", "dead (at most 1 V)", "dead (at most 1 V) or live (227 V to 252 V)".
std::string must_be(const VoltageExpectation& expected);

}  // namespace switchwright::wording
