// A row of corrections as it stands in a file: in a meter's definition ([[correction]]) and in the ledger of the shop's own meters
// ([[meter.correction]]).
#pragma once

#include <string>

#include "core/toml_reader.hpp"
#include "switchwright/meter/definition.hpp"

namespace switchwright {

/// Reads one row to its end; mistakes go to the section's list.
Correction read_correction(toml_reader::Section& section);
/// @param heading "[[correction]]" with its brackets
std::string correction_toml(const Correction& row, const std::string& heading);
/// The quantity of a row of any kind.
std::optional<Quantity> read_quantity(toml_reader::Section& section);

}  // namespace switchwright
