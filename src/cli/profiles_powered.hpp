// What a meter should read under power: the voltages of a profile as a table and as JSON Lines.
#pragma once

#include "switchwright/profile/profile.hpp"

namespace switchwright::cli {

/// @throws Error(usage) without a [powered] part.
void show_voltages(const Profile& profile);
void print_voltages_json(const Profile& profile);

}  // namespace switchwright::cli
