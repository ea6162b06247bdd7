// Asks a person at a terminal for the results of other instruments that the profile wants and nobody has entered yet.
#pragma once

#include <optional>
#include <vector>

#include "switchwright/judge/stated.hpp"
#include "switchwright/record/record.hpp"

namespace switchwright::cli {

/// Adds to `stated`. An empty answer leaves a result out; the verdict then says that it is missing.
void ask_for_stated(const Profile& profile, const std::optional<Record>& earlier, std::vector<StatedResult>& stated);

}  // namespace switchwright::cli
