// Trends over many records, as one picture.
#pragma once

#include <string>
#include <vector>

#include "switchwright/analysis/trend.hpp"

namespace switchwright {

/// An SVG document: contact resistance, heater, duty and period of each record over time, and the fault kinds of each week.
/// Quantities that no record tells are left out.
std::string trend_picture(const std::vector<TrendPoint>& points, const std::string& title);

}  // namespace switchwright
