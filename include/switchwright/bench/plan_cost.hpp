// What the moves of a whole plan take: probes, knob, and the meter's dial between volts and ohms.
#pragma once

#include <vector>

#include "switchwright/bench/plan.hpp"
#include "switchwright/profile/route.hpp"

namespace switchwright {

struct PlanCost {
  int probes_moved = 0;  ///< single probes; placing both counts two
  int knob_steps = 0;
  int function_changes = 0;  ///< of the meter's dial; the first setting is free
  double seconds = 0.0;
};

/// The work from the first step that has an arrangement to the last. Shorted probes, a known source and a pair are
/// three places: from one to another both probes move.
PlanCost cost_of(const std::vector<Step>& steps, const Profile& profile, const RouteCost& cost);

/// Every step of a complete qualification: proving the meter, absence of voltage, leads, every pair at every position by
/// this route, and where the profile says how it is powered, the voltages. Volts come first and last and ohms between, so
/// that the dial is changed once, or twice with the part under power: no order that proves a part dead before its ohms
/// are measured has fewer changes.
std::vector<Step> complete_plan(const Profile& profile, const std::vector<Placement>& route);

}  // namespace switchwright
