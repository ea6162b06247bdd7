// The pictures of a report, as SVG that stands in the HTML page. Every state is told by shape, pattern
// and word as well as by colour, so that a black and white print and a colour-blind reader lose nothing.
#pragma once

#include <string>
#include <vector>

#include "report/view.hpp"

namespace switchwright {

/// Pairs down, knob positions across; each cell shows what was read, drawn as a contact, and how it was
/// judged.
std::string matrix_picture(const View& view, const std::vector<Pair>& pairs);
/// Each reading with its uncertainty on a logarithmic resistance axis, over the interval it must lie in; the pairs under each
/// other, or in two columns.
std::string axis_picture(const View& view, const std::vector<Pair>& pairs, int columns);
/// The volts under power, laid out as matrix_picture, at most so many pairs. The view's verdict must have voltages.
std::string voltage_picture(const View& view, std::size_t most_pairs);

/// What a picture has room for: all pairs, or those that do not pass before those that do; in the view's order.
/// @param most_readings of all that are chosen
std::vector<Pair> pairs_for_picture(const View& view, std::size_t most_pairs, std::size_t most_readings);

/// The profile's network at a position, without words around it; what deviates is named and marked. Empty for a position
/// that the profile does not have. @param name unique in the page
std::string schematic_figure(const Profile& profile, const std::string& position, const std::vector<Pair>& deviating,
                             const std::string& name);

}  // namespace switchwright
