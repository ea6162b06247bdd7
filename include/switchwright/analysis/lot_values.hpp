// The variables of a lot: what was measured on every unit, in the order measured, with the limits of the profile; and for every
// unit which version of the part it is by its element.
#pragma once

#include <string>
#include <vector>

#include "switchwright/analysis/lot_course.hpp"
#include "switchwright/lot/capability.hpp"
#include "switchwright/lot/mixed.hpp"
#include "switchwright/profile/profile.hpp"

namespace switchwright {

struct LotValue {
  int unit = 0;
  std::string serial;
  double ohm = 0.0;
  double U_ohm = 0.0;
};

struct LotMeasurand {
  std::string name;  ///< "heater (H1-H2)", "contact line (L1-H1)"
  bool is_element = false;
  ValueLimits limits;
  std::vector<LotValue> values;
  double resolution_ohm = 0.0;
  /// The meter's own spread hides that of the parts, or all values are one digit: no statistics then.
  std::string why_not;
};

/// A unit that is, or may be, another version than was ordered.
struct LotVersion {
  int unit = 0;
  std::string serial;
  VersionOf version;
};

struct LotValues {
  std::vector<LotMeasurand> measurands;
  std::vector<LotVersion> versions;  ///< of every unit whose element was measured; empty: no other version was named
};

/// @param records of the units, in the order tested, as pairs with the places; @param others profiles of other versions
LotValues lot_values(const Profile& profile, const std::vector<std::pair<LotPlaceState, Record>>& units,
                     const std::vector<Profile>& others);

}  // namespace switchwright
