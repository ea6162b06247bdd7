// What keeps a profile from being finished: a part that was learned has numbers where nobody has said what is stamped on it.
#pragma once

#include "switchwright/profile/profile.hpp"

namespace switchwright {

/// False where the profile's own text says `stated = false` under [rating].
bool rating_is_stated(const Profile& profile);

}  // namespace switchwright
