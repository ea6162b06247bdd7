// The pictures of a report, as SVG that stands in the HTML page. Every state is told by shape, pattern
// and word as well as by colour, so that a black and white print and a colour-blind reader lose nothing.
#pragma once

#include <string>

#include "report/view.hpp"

namespace switchwright {

/// Pairs down, knob positions across; each cell shows what was read, drawn as a contact, and how it was
/// judged.
std::string matrix_picture(const View& view);
/// Each reading with its uncertainty on a logarithmic resistance axis, over the interval it must lie in.
std::string axis_picture(const View& view);
/// The volts under power, laid out as matrix_picture. The view's verdict must have voltages.
std::string voltage_picture(const View& view);

/// The profile's network at a position, without words around it; what deviates is named and marked. Empty for a position
/// that the profile does not have. @param name unique in the page
std::string schematic_figure(const Profile& profile, const std::string& position, const std::vector<Pair>& deviating,
                             const std::string& name);

}  // namespace switchwright
