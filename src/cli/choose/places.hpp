// Where definitions, profiles and settings are looked for.
#pragma once

#include <filesystem>
#include <string>
#include <vector>

#include "switchwright/meter/definition.hpp"

namespace switchwright::cli {

/// First the user's own (XDG_DATA_HOME/switchwright/meters), then those of the source tree, then the installed ones.
SearchPath meter_places();
std::vector<std::filesystem::path> profile_places();
/// XDG_CONFIG_HOME/switchwright/bench.toml
std::filesystem::path bench_file();
/// XDG_CONFIG_HOME/switchwright/meters-own.toml: the calibration ledger
std::filesystem::path own_meters_file();
/// --store, else the default.
std::filesystem::path store_place(const std::string& option);

}  // namespace switchwright::cli
