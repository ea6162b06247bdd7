// Finding and loading profiles.
#pragma once

#include <filesystem>
#include <string>
#include <vector>

#include "switchwright/profile/profile.hpp"

namespace switchwright {

/// Loads ID: a file name in one of `directories` without .toml, or a path to a .toml file.
/// @throws Error(usage) with every mistake of the file at once, one "path:line:column: expected X, saw Y;
/// ..." per line, including contradictions of the network; or for an unknown id, with near names.
Profile load_profile(const std::string& id, const std::vector<std::filesystem::path>& directories);
/// Parses TOML text; `path` is used in messages.
Profile parse_profile(const std::string& toml, const std::filesystem::path& path);
/// All ids in `directories`, sorted, each once.
std::vector<std::string> list_profiles(const std::vector<std::filesystem::path>& directories);

}  // namespace switchwright
