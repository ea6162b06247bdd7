#include "switchwright/profile/unfinished.hpp"

#include <toml++/toml.h>

namespace switchwright {

bool rating_is_stated(const Profile& profile) {
  try {
    return toml::parse(profile.source_text)["rating"]["stated"].value_or(true);
  } catch (const toml::parse_error&) {
    return true;  // made by a program, not from a text
  }
}

}  // namespace switchwright
