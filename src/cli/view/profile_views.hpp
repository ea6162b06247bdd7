// What `profiles` can show besides the expected readings; each prints, or writes JSON Lines.
#pragma once

#include "cli/options/options.hpp"
#include "switchwright/profile/profile.hpp"

namespace switchwright::cli {

void show_order(const Profile& profile, const ProfilesOptions& options);
void show_coverage(const Profile& profile, const ProfilesOptions& options);
void show_shortest(const Profile& profile, const ProfilesOptions& options);
void write_picture(const Profile& profile, const ProfilesOptions& options);
/// @throws Error(usage) with every mistake of the file.
int check_profile(const ProfilesOptions& options);
int match_record(const ProfilesOptions& options);

}  // namespace switchwright::cli
