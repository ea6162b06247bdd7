// The pictures of a lot report.
#pragma once

#include <string>
#include <vector>

#include "switchwright/analysis/lot_values.hpp"
#include "switchwright/record/lot.hpp"

namespace switchwright {

/// Values in the order measured with the chart's limits and the profile's, and beside it their histogram.
std::string values_picture(const LotMeasurand& measurand, int number);
/// What the bench checks read, as a share of what is allowed.
std::string checks_picture(const std::vector<BenchCheckRow>& checks);

}  // namespace switchwright
