// The variables of a lot: what was measured on every unit, in the order measured, with the limits of the profile; and for every
// unit which version of the part it is by its element.
#pragma once

#include <string>
#include <vector>

#include "switchwright/analysis/lot_course.hpp"
#include "switchwright/analysis/trend.hpp"
#include "switchwright/lot/capability.hpp"
#include "switchwright/lot/mixed.hpp"
#include "switchwright/profile/profile.hpp"

namespace switchwright {

enum class LotUnitOfValue { ohm, second, share };
/// "12.3 ohm", "14.2 s", "43.1 %".
std::string value_words(double value, LotUnitOfValue unit);

struct LotValue {
  int unit = 0;
  std::string serial;
  double value = 0.0;
  double U = 0.0;  ///< expanded; in the same unit
};

struct LotMeasurand {
  std::string name;  ///< "heater (H1-H2)", "contact line (L1-H1)", "duty at medium"
  LotUnitOfValue in = LotUnitOfValue::ohm;
  bool is_element = false;
  ValueLimits limits;
  std::vector<LotValue> values;
  double resolution_ohm = 0.0;  ///< of ohms: the coarsest digit shown
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

/// A trace of a unit of the lot: the same serial number, begun after the lot was opened.
struct LotTrace {
  int unit = 0;
  std::string serial;
  TimedFigures timed;
};

/// @param units with their records, in the order tested; @param others profiles of other versions; @param traces in the order
/// begun, of one unit and position the last counts
LotValues lot_values(const Profile& profile, const std::vector<std::pair<LotPlaceState, Record>>& units,
                     const std::vector<Profile>& others, const std::vector<LotTrace>& traces = {});

}  // namespace switchwright
