#include "switchwright/bench/plan_cost.hpp"

#include <cmath>
#include <cstdlib>
#include <map>
#include <optional>

namespace switchwright {

namespace {

/// Probes that have to move between two arrangements.
int probes_between(const Arrangement& from, const Arrangement& to) {
  if (from.probes != to.probes) return 2;
  if (to.probes != Probes::on_pair || from.pair == to.pair) return 0;
  return from.pair.shared_with(to.pair).empty() ? 2 : 1;
}

}  // namespace

PlanCost cost_of(const std::vector<Step>& steps, const Profile& profile, const RouteCost& cost) {
  std::map<std::string, int> index;
  for (const Position& position : profile.positions) index.emplace(position.id, static_cast<int>(index.size()));
  PlanCost total;
  const Arrangement* before = nullptr;
  std::optional<int> knob;
  for (const Step& step : steps) {
    const Arrangement& here = step.arrangement;
    if (here.probes == Probes::off) continue;  // reading, answering: nothing is moved
    if (before != nullptr) {
      const int probes = probes_between(*before, here);
      total.probes_moved += probes;
      total.seconds += probes == 0 ? 0.0 : probes == 1 ? cost.move_one_s : cost.move_both_s;
      if (here.dial != before->dial) {
        ++total.function_changes;
        total.seconds += cost.change_function_s;
      }
    }
    if (const auto at = index.find(here.position); at != index.end()) {
      if (knob) {
        const int turned = std::abs(at->second - *knob);
        total.knob_steps += turned;
        total.seconds += turned * cost.turn_step_s;
      }
      knob = at->second;
    }
    before = &here;
  }
  return total;
}

std::vector<Step> complete_plan(const Profile& profile, const std::vector<Placement>& route) {
  std::vector<Step> steps = plan_qualification(profile, expectations(profile), route, MeterDefinition{});
  if (!profile.powered) return steps;
  const auto live = plan_powered(profile, voltage_expectations(profile), static_cast<int>(steps.size()) + 1);
  steps.insert(steps.end(), live.begin(), live.end());
  return steps;
}

}  // namespace switchwright
