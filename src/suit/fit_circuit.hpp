// The part wired as its profile's [powered] part says, with a load of one's own: what each contact carries and what each
// element turns into heat. Internal to this room.
#pragma once

#include <map>
#include <optional>
#include <string>

#include "switchwright/profile/profile.hpp"

namespace switchwright {

struct CircuitFigures {
  std::map<std::string, double> contact_a;  ///< contacts that conduct, by id
  std::map<std::string, double> element_w;  ///< by id
};

/// All loads that are no lamps, in parallel, in ohm; nothing without a [powered] part or without such loads.
std::optional<double> profile_load_ohm(const Profile& profile);

/// @param load_ohm all loads that are no lamps are scaled so that together they have this resistance; absent: as the
/// profile has them. @param cycled_open the contacts that cycle at this position are open.
/// Nothing when the profile has no [powered] part with a load, or when the supply is shorted.
std::optional<CircuitFigures> solve_circuit(const Profile& profile, const std::string& position, double supply_v,
                                            std::optional<double> load_ohm, bool cycled_open);

enum class Warmth {
  none,    ///< not warmed through the cycling contact
  supply,  ///< by the supply, whatever the load (heater across the load)
  load,    ///< by the load current (heater in series)
};
/// How an element is warmed while the contact cycles at any position.
Warmth warmth_of(const Profile& profile, const std::string& element);

}  // namespace switchwright
