// What a unit's record says to the lot that it belongs to.
#pragma once

#include <string>

#include "switchwright/record/record.hpp"

namespace switchwright {

/// The worst severity among everything that fails in a verdict: "critical", "major", "minor"; empty when nothing fails.
std::string worst_severity(const Verdict& verdict);

/// The row of a unit whose record has a verdict; place, unit and retest are the caller's.
LotUnitRow tested_row(const Record& record);

}  // namespace switchwright
