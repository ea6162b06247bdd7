// Terminals that are joined and two faults at once, in the simulated switch.
#include <doctest/doctest.h>

#include <cmath>

#include "sim/live_switch.hpp"
#include "switchwright/profile/library.hpp"

namespace switchwright::sim {

namespace {

LiveSwitch switch_with(const char* faults) {
  const Profile profile = load_profile("regulator-shunt-240", {SOURCE_DIR "/profiles"});
  SimulatorSettings settings;
  settings.faults = parse_faults(faults, profile);
  return LiveSwitch{profile, settings, 0.0};
}

}  // namespace

TEST_CASE("joined supply terminals trip the supply at every position") {
  LiveSwitch part = switch_with("bridged:L1,L2");
  part.set_power(1.0, true);
  CHECK(part.tripped());
  CHECK(part.rms_v({"L1", "L2"}, 0.0).value_or(0.0) == 0.0);
}

// By the wiring: at off both contacts are open; the joint feeds H2 from L1, so the load end is live to the other leg.
TEST_CASE("a joint across an open contact makes the load end live at off") {
  LiveSwitch sound = switch_with("none");
  sound.set_power(1.0, true);
  CHECK(sound.rms_v({"H2", "L2"}, 0.0).value_or(0.0) < 1.0);
  LiveSwitch joined = switch_with("bridged:L1,H2");
  joined.set_power(1.0, true);
  CHECK_FALSE(joined.tripped());
  REQUIRE(joined.rms_v({"H2", "L2"}, 0.0));
  CHECK(*joined.rms_v({"H2", "L2"}, 0.0) == doctest::Approx(240.0).epsilon(0.001));
}

// By hand: healthy contacts 0.012 ohm, line 5 ohm, heater 14400 ohm open.
TEST_CASE("two faults at once show both") {
  LiveSwitch part = switch_with("resistive:line=5 + open:heater");
  part.turn_knob(1.0, "low");
  CHECK(part.resistance_ohm({"L1", "H1"}) == doctest::Approx(5.0));
  CHECK(std::isinf(part.resistance_ohm({"H1", "H2"})));
  CHECK(part.resistance_ohm({"L1", "P"}) == doctest::Approx(0.012));
}

}  // namespace switchwright::sim
