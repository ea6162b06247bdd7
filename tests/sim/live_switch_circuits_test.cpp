// Several contacts, circuits and bimetals under one supply, and what the supply and the bond do to them.
#include <doctest/doctest.h>

#include <cmath>
#include <limits>

#include "live_switch_bench.hpp"
#include "sim/live_switch.hpp"
#include "switchwright/profile/library.hpp"

namespace switchwright::sim {

namespace {

/// Two circuits side by side, each with a contact, a heater and a load of its own. Invented.
Profile two_circuits() {
  return parse_profile(R"(
schema = 1
title = "Two circuits, each with a bimetal of its own"
values = "invented"
[rating]
voltage_v = 240
current_a = 15
[terminals]
names = ["L1", "L2", "A", "B"]
[[position]]
id = "off"
angle_deg = 0
[[position]]
id = "on"
angle_deg = 90
[[contact]]
id = "cycling-a"
between = ["L2", "A"]
cycles_at = ["on"]
[[contact]]
id = "cycling-b"
between = ["L2", "B"]
cycles_at = ["on"]
[[element]]
id = "heater-a"
between = ["L1", "A"]
nominal_ohm = 14400
tolerance_pct = 15
[[element]]
id = "heater-b"
between = ["L1", "B"]
nominal_ohm = 14400
tolerance_pct = 15
[limits]
closed_max_ohm = 2.0
sound_max_ohm = 0.1
open_min_ohm = 1e6
[powered]
supply = ["L1", "L2"]
voltage_v = 240
range = "ansi-c84.1-a"
[[powered.load]]
id = "a"
between = ["L1", "A"]
ohm = 24
tolerance_pct = 10
[[powered.load]]
id = "b"
between = ["L1", "B"]
ohm = 48
tolerance_pct = 10
[[timing]]
position = "on"
on_s = [10, 10]
off_s = [15, 15]
)",
                       "two-circuits.toml");
}

}  // namespace

TEST_CASE("Contacts that feed one heater share a bimetal and circuits with a heater each have one each") {
  const auto bimetals = [](const Profile& profile) { return LiveSwitch{profile, exact(), 0.0}.bimetals(); };
  CHECK(bimetals(regulator()) == 1);
  CHECK(bimetals(load_profile("regulator-both-legs-240", {SOURCE_DIR "/profiles"})) == 1);
  CHECK(bimetals(load_profile("regulator-dual-240", {SOURCE_DIR "/profiles"})) == 1);
  CHECK(bimetals(two_circuits()) == 2);
}

TEST_CASE("Both legs of a regulator open at one instant and close at one") {
  LiveSwitch part{load_profile("regulator-both-legs-240", {SOURCE_DIR "/profiles"}), exact(), 0.0};
  part.turn_knob(0.0, "medium");
  part.set_power(0.0, true);
  const double opens_s = part.contact("cycling-1").next_event_s();
  part.advance(opens_s - 1e-6);
  CHECK(*part.rms_v({"H1", "H2"}, 0.0) > 200.0);
  part.advance(opens_s + 1e-6);
  // Off both legs the load floats: neither end has the supply on it.
  CHECK(std::isinf(part.resistance_ohm({"L1", "H1"})));
  CHECK(std::isinf(part.resistance_ohm({"L2", "H2"})));
}

TEST_CASE("Two circuits cycle each by its own bimetal and one that fails leaves the other alone") {
  SimulatorSettings settings = exact();
  settings.power.scatter = 0.02;
  settings.faults = {{FaultKind::open, "heater-b", {}, {}}};
  LiveSwitch part{two_circuits(), settings, 0.0};
  part.turn_knob(0.0, "on");
  part.set_power(0.0, true);
  part.advance(1000.0);
  // 25 s a cycle, the first one longer because it starts cold.
  CHECK(part.contact("cycling-a").openings() >= 36);
  CHECK(part.contact("cycling-a").openings() <= 41);
  CHECK(part.contact("cycling-b").openings() == 0);
  CHECK(*part.rms_v({"L1", "B"}, 0.0) > 239.0);

  settings.faults.clear();
  LiveSwitch sound{two_circuits(), settings, 0.0};
  sound.turn_knob(0.0, "on");
  sound.set_power(0.0, true);
  bool apart = false;
  for (double at_s = 0.5; at_s < 500.0; at_s += 0.5) {
    sound.advance(at_s);
    apart = apart || sound.contact("cycling-a").closed() != sound.contact("cycling-b").closed();
  }
  CHECK(apart);  // the scatter of each is its own
  CHECK(sound.contact("cycling-b").openings() >= 17);
}

TEST_CASE("A supply that sways takes the on time with it and leaves the off time alone") {
  SimulatorSettings settings = exact();
  settings.power.sway = 0.10;
  settings.power.sway_period_s = 4000.0;
  LiveSwitch part{regulator_timed(10.0, 20.0), settings, 0.0};
  part.turn_knob(0.0, "medium");
  part.set_power(0.0, true);
  // Snap points from the wanted times at 200 K and 30 s: c = 200 (b - 1) / (a b - 1), o = a c with a =
  // e^(20/30), b = e^(10/30). At V the contact is heated to 200 (V / 240)^2 K: t_on = 30 ln((F - c) / (F -
  // o)).
  const double a = std::exp(20.0 / 30.0), b = std::exp(10.0 / 30.0);
  const double c = 200.0 * (b - 1.0) / (a * b - 1.0), o = a * c;
  const auto on_s = [&](double volts) {
    const double to_k = 200.0 * (volts / 240.0) * (volts / 240.0);
    return 30.0 * std::log((to_k - c) / (to_k - o));
  };
  struct Row {
    double at_s, volts;
  };
  for (const Row& row : {Row{1000.0, 264.0}, Row{3000.0, 216.0}}) {
    CAPTURE(row.volts);
    part.advance(row.at_s - 30.0);
    double closed_s = 0.0, opened_s = 0.0;
    bool was_closed = part.contact().closed();
    for (double at_s = row.at_s - 30.0; at_s < row.at_s + 60.0; at_s += 0.01) {
      part.advance(at_s);
      const bool closed = part.contact().closed();
      if (closed && !was_closed) {
        if (opened_s > 0.0) CHECK(at_s - opened_s == doctest::Approx(20.0).epsilon(0.002));
        closed_s = at_s;
      }
      if (!closed && was_closed) {
        if (closed_s > 0.0) CHECK(at_s - closed_s == doctest::Approx(on_s(row.volts)).epsilon(0.01));
        opened_s = at_s;
      }
      was_closed = closed;
    }
    CHECK(opened_s > 0.0);
    CHECK(part.supply_v() == doctest::Approx(row.volts).epsilon(0.005));
    CHECK(*part.rms_v({"L1", "L2"}, 0.0) == doctest::Approx(row.volts).epsilon(0.005));
  }
}

TEST_CASE("A supply with ripple stays around its mean and repeats with the seed") {
  SimulatorSettings settings = exact();
  settings.power.ripple = 0.02;
  std::vector<double> first;
  for (int round = 0; round < 2; ++round) {
    LiveSwitch part{regulator(), settings, 0.0};
    part.set_power(0.0, true);
    std::vector<double> seen;
    double sum = 0.0;
    for (int i = 1; i <= 400; ++i) {
      part.advance(0.5 * i + 0.25);
      seen.push_back(part.supply_v());
      sum += part.supply_v();
      CHECK(std::abs(part.supply_v() - 240.0) <= 4.8);
    }
    CHECK(sum / 400.0 == doctest::Approx(240.0).epsilon(0.003));
    if (round == 0)
      first = seen;
    else
      CHECK(seen == first);
  }
}

TEST_CASE("a supply that is lost comes back when it is said to and not before") {
  const Profile profile = load_profile("regulator-shunt-240", {std::string{SOURCE_DIR} + "/profiles"});
  SimulatorSettings settings;
  settings.power.supply_lost_at_s = 1.1;
  settings.power.supply_lost_for_s = 0.7;
  LiveSwitch part(profile, settings, 0.0);
  part.set_power(3.3, true);
  const auto volts_at = [&](double at_s) {
    part.advance(at_s);
    return part.rms_v({"L1", "L2"}, 0.0).value_or(-1.0);
  };
  CHECK(volts_at(4.3) == doctest::Approx(240));
  CHECK(volts_at(4.5) == 0.0);
  CHECK(volts_at(5.0) == 0.0);
  CHECK(volts_at(5.2) == doctest::Approx(240));
  CHECK(volts_at(50.0) == doctest::Approx(240));
}

TEST_CASE("the bond of exposed metal reads as it is set and without it the metal floats") {
  const Profile profile = load_profile("regulator-shunt-240", {std::string{SOURCE_DIR} + "/profiles"});
  for (const double ohm : {0.05, 5.0, std::numeric_limits<double>::infinity()}) {
    SimulatorSettings settings;
    settings.power.bond_ohm = ohm;
    LiveSwitch part(profile, settings, 0.0);
    CHECK(part.resistance_ohm({"CASE", "EARTH"}) == ohm);
    part.set_power(1.0, true);
    CHECK(part.rms_v({"L1", "CASE"}, 0.0).has_value() == std::isfinite(ohm));
  }
}

}  // namespace switchwright::sim
