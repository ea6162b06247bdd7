#include "switchwright/bench/plan_cost.hpp"

#include <doctest/doctest.h>

#include "switchwright/profile/library.hpp"

using namespace switchwright;

namespace {

const std::filesystem::path shipped = std::filesystem::path(SOURCE_DIR) / "profiles";

Step step(Probes probes, const Pair& pair, const char* position, Quantity dial) {
  Step made;
  made.arrangement = {probes, pair, position, dial};
  return made;
}

}  // namespace

// By hand at 4 s for one probe, 7 s for both, 2 s for a step of the knob, 5 s for the dial.
TEST_CASE("a plan costs its probe moves its knob steps and its changes of function") {
  Profile profile;
  profile.terminals = {"A", "B", "C"};
  profile.positions = {{"off", 0, ""}, {"on", 90, ""}, {"full", 180, ""}};
  const std::vector<Step> steps{
      step(Probes::off, {}, "", Quantity::resistance),                  // words only
      step(Probes::on_known_source, {}, "", Quantity::voltage_ac),      // where it begins
      step(Probes::on_pair, {"A", "B"}, "off", Quantity::voltage_ac),   // both probes                7
      step(Probes::on_pair, {"A", "C"}, "off", Quantity::voltage_ac),   // one                        4
      step(Probes::shorted, {}, "", Quantity::resistance),              // both, dial                12
      step(Probes::on_pair, {"A", "B"}, "full", Quantity::resistance),  // both, two steps           11
      step(Probes::on_pair, {"A", "B"}, "on", Quantity::resistance),    // one step                   2
      step(Probes::on_pair, {"A", "C"}, "on", Quantity::voltage_ac),    // one probe and the dial     9
  };
  const PlanCost cost = cost_of(steps, profile, RouteCost{});
  CHECK(cost.probes_moved == 8);
  CHECK(cost.knob_steps == 3);
  CHECK(cost.function_changes == 2);
  CHECK(cost.seconds == doctest::Approx(45.0));
  RouteCost slow_dial;
  slow_dial.change_function_s = 30.0;
  CHECK(cost_of(steps, profile, slow_dial).seconds == doctest::Approx(95.0));
}

// Volts AC and DC, ohms, and under power volts again; the bond of exposed metal is in ohms between volts, before and after.
TEST_CASE("a complete qualification changes from AC to DC volts to ohms and under power for the bonds too") {
  for (const std::string& id : list_profiles({shipped})) {
    const Profile profile = load_profile(id, {shipped});
    const Route route = plan_route(profile, expectations(profile), RouteCost{});
    const PlanCost whole = cost_of(complete_plan(profile, route.placements), profile, RouteCost{});
    CAPTURE(id);
    const int bonds = profile.powered ? static_cast<int>(bonded_metal(profile).size()) : 0;
    CHECK(whole.function_changes == (!profile.powered ? 2 : bonds == 0 ? 3 : 2 + 4 * bonds));
    CHECK(whole.seconds > route.cost_s);
    const PlanCost plain =
        cost_of(complete_plan(profile, naive_route(profile, expectations(profile))), profile, RouteCost{});
    CHECK(whole.seconds <= plain.seconds);
  }
}
