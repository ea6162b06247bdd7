// A profile drawn as a schematic, its contacts in the state of one position.
#pragma once

#include <string>

#include "switchwright/profile/profile.hpp"

namespace switchwright {

/// A stand-alone SVG document. Symbols after IEC 60617 (make contact, resistor, lamp, operating coil,
/// terminal, junction), drawn cold and not powered; below it a chart of all contacts at all positions.
/// @param position an id of the profile; empty: the first position
/// @throws Error(usage) for a position that the profile does not have, with near names.
std::string schematic_svg(const Profile& profile, const std::string& position = {});
/// The switch alone, without title, chart and notes: an svg element whose terminals are marked with data-terminal and whose
/// metal housing with data-metal, so that a page can point at them. @throws as above.
std::string schematic_figure(const Profile& profile, const std::string& position);

}  // namespace switchwright
