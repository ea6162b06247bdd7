// What a person states about a meter that does not show it itself: its range on ohms, the air around it.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "switchwright/meter/definition.hpp"

namespace switchwright::cli {

/// What is stated about the meter, for the record and for the verdict. @param range may be empty
/// @throws Error(usage) for a range that it does not have.
std::vector<std::string> meter_statements(const std::string& range, std::optional<double> ambient_c,
                                          const MeterDefinition& meter);

/// A meter whose frames say nothing about its range cannot prove an open unless somebody states the range: asks in a
/// terminal; empty where it need not be asked or is not answered.
std::string ask_for_range(const MeterDefinition& meter);

}  // namespace switchwright::cli
