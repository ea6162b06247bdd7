// A shipped regulator under power, in time that the test moves.
#include "sim/live_switch.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <limits>

#include "switchwright/profile/library.hpp"

namespace switchwright::sim {

namespace {

Profile regulator() { return load_profile("regulator-shunt-240", {SOURCE_DIR "/profiles"}); }

/// On and off times at rated voltage are set to one value each.
Profile regulator_timed(double on_s, double off_s) {
  Profile profile = regulator();
  profile.timing.clear();
  Timing timing;
  timing.position = "medium";
  timing.on_s = Interval{on_s, on_s};
  timing.off_s = Interval{off_s, off_s};
  profile.timing.push_back(timing);
  return profile;
}

SimulatorSettings exact() {
  SimulatorSettings settings;
  settings.power.scatter = 0.0;
  settings.power.bounces = 0;
  return settings;
}

/// Lets the switch run and returns the instants at which its contact changes, found by asking for the next
/// event.
std::vector<ContactEvent> run(LiveSwitch& part, double from_s, std::size_t events) {
  std::vector<ContactEvent> seen;
  double at_s = from_s;
  while (seen.size() < events) {
    at_s = part.contact().next_event_s();
    if (!std::isfinite(at_s)) break;
    part.advance(at_s);
    seen.push_back({at_s, part.contact().closed()});
  }
  return seen;
}

struct Cycle {
  double on_s = 0.0;
  double off_s = 0.0;
};

Cycle steady_cycle(LiveSwitch& part) {
  const auto events = run(part, 0.0, 8);
  REQUIRE(events.size() == 8);
  REQUIRE(events[5].closed);
  return {events[6].at_s - events[5].at_s, events[7].at_s - events[6].at_s};
}

}  // namespace

TEST_CASE("Under power every pair shows what the wiring gives it") {
  struct Row {
    const char* position;
    Pair pair;
    double v;  // by hand: 240 V between L1 and L2, housing at the midpoint, contacts and load from the profile
  };
  const Row rows[] = {
      {"off", {"L1", "L2"}, 240.0},  {"off", {"H1", "H2"}, 0.0},      {"off", {"L1", "CASE"}, 120.0},
      {"low", {"H1", "H2"}, 240.0},  {"low", {"P", "L2"}, 240.0},     {"low", {"L1", "H1"}, 0.0},
      {"high", {"H1", "H2"}, 240.0}, {"high", {"H2", "CASE"}, 120.0},
  };
  for (const Row& row : rows) {
    CAPTURE(row.position);
    CAPTURE(row.pair.text());
    LiveSwitch part{regulator(), exact(), 0.0};
    part.turn_knob(0.0, row.position);
    part.set_power(0.0, true);
    const auto volts = part.rms_v(row.pair, 0.0);
    REQUIRE(volts);
    CHECK(std::abs(*volts - row.v) < 0.3);
  }
}

TEST_CASE("Without power every pair is dead") {
  LiveSwitch part{regulator(), exact(), 0.0};
  part.turn_knob(0.0, "low");
  CHECK(part.rms_v({"L1", "L2"}, 0.0) == 0.0);
  part.set_power(0.0, true);
  part.advance(1.0);
  part.set_power(1.0, false);
  CHECK(part.rms_v({"L1", "L2"}, 0.0) == 0.0);
}

TEST_CASE("At rated voltage a sound switch cycles in the middle of its profile's limits") {
  LiveSwitch part{regulator(), exact(), 0.0};
  part.turn_knob(0.0, "medium");
  part.set_power(0.0, true);
  const Cycle cycle = steady_cycle(part);
  for (const Timing& timing : part.profile().timing) {
    if (timing.position != "medium") continue;
    REQUIRE(timing.on_s);
    REQUIRE(timing.off_s);
    CHECK(cycle.on_s == doctest::Approx(0.5 * (timing.on_s->min + timing.on_s->max)).epsilon(0.001));
    CHECK(cycle.off_s == doctest::Approx(0.5 * (timing.off_s->min + timing.off_s->max)).epsilon(0.001));
  }
}

TEST_CASE("Every shipped profile that cycles does so inside its own limits at rated voltage") {
  int checked = 0;
  for (const std::string& id : list_profiles({SOURCE_DIR "/profiles"})) {
    const Profile profile = load_profile(id, {SOURCE_DIR "/profiles"});
    if (!profile.powered) continue;
    for (const Timing& timing : profile.timing) {
      CAPTURE(id);
      CAPTURE(timing.position);
      LiveSwitch part{profile, exact(), 0.0};
      part.turn_knob(0.0, timing.position);
      part.set_power(0.0, true);
      const auto events = run(part, 0.0, 8);
      REQUIRE(events.size() == 8);
      const double on_s = events[6].at_s - events[5].at_s;
      const double off_s = events[7].at_s - events[6].at_s;
      if (timing.on_s) CHECK(timing.on_s->contains(on_s));
      if (timing.off_s) CHECK(timing.off_s->contains(off_s));
      if (timing.period_s) CHECK(timing.period_s->contains(on_s + off_s));
      if (timing.duty) CHECK(timing.duty->contains(on_s / (on_s + off_s)));
      ++checked;
    }
  }
  CHECK(checked >= 6);
}

TEST_CASE("Lower supply lengthens the on time and leaves the off time") {
  // First-order law with tau 30 s, 200 K at 240 V, contact between 75 and 85 K (computed, not by this
  // program): on 2.501 s and off 3.755 s at 240 V; 4.279 s and 3.755 s at 208 V (150.22 K).
  SimulatorSettings settings = exact();
  LiveSwitch rated{regulator_timed(2.501, 3.755), settings, 0.0};
  settings.power.supply_v = 208.0;
  LiveSwitch low{regulator_timed(2.501, 3.755), settings, 0.0};
  for (LiveSwitch* part : {&rated, &low}) {
    part->turn_knob(0.0, "medium");
    part->set_power(0.0, true);
  }
  const Cycle at_240 = steady_cycle(rated);
  CHECK(at_240.on_s == doctest::Approx(2.501).epsilon(0.001));
  CHECK(at_240.off_s == doctest::Approx(3.755).epsilon(0.001));
  const Cycle at_208 = steady_cycle(low);
  CHECK(at_208.on_s == doctest::Approx(4.279).epsilon(0.001));
  CHECK(at_208.off_s == doctest::Approx(3.755).epsilon(0.001));
}

TEST_CASE("What keeps a switch from cycling") {
  struct Row {
    const char* what;
    std::vector<Fault> faults;
    double supply_v;
    const char* position;
  };
  const Row rows[] = {
      {"heater open", {{FaultKind::open, "heater", "", {}}}, 240.0, "medium"},
      {"line contact stuck open: no current in the heater", {{FaultKind::stuck_open, "line", "", {}}}, 240.0, "medium"},
      {"120 V on a 240 V part: 50 K at most", {}, 120.0, "medium"},
      {"highest setting: the cam holds the contact", {}, 240.0, "high"},
      {"off", {}, 240.0, "off"},
  };
  for (const Row& row : rows) {
    CAPTURE(row.what);
    SimulatorSettings settings = exact();
    settings.faults = row.faults;
    settings.power.supply_v = row.supply_v;
    LiveSwitch part{regulator_timed(2.501, 3.755), settings, 0.0};
    part.turn_knob(0.0, row.position);
    part.set_power(0.0, true);
    part.advance(1e5);
    CHECK(part.contact().openings() == 0);
  }
}

TEST_CASE("A contact stuck closed keeps the load live though the bimetal moves") {
  SimulatorSettings settings = exact();
  settings.faults = {{FaultKind::stuck_closed, "cycling", "", {}}};
  LiveSwitch part{regulator_timed(2.501, 3.755), settings, 0.0};
  part.turn_knob(0.0, "medium");
  part.set_power(0.0, true);
  for (int i = 1; i < 200; ++i) {
    part.advance(i);
    CHECK(part.rms_v({"H1", "H2"}, 0.0).value_or(0.0) > 239.0);
  }
}

TEST_CASE("A contact that welds under power leaves the load live to the housing at off") {
  SimulatorSettings settings = exact();
  settings.power.welds_at_operation = 3;
  LiveSwitch part{regulator_timed(2.501, 3.755), settings, 0.0};
  part.turn_knob(0.0, "medium");
  part.set_power(0.0, true);
  part.advance(1000.0);
  CHECK(part.contact().welded());
  CHECK(part.contact().openings() == 2);
  CHECK(part.rms_v({"H1", "H2"}, 0.0).value_or(0.0) > 239.0);
  part.turn_knob(1000.0, "off");
  CHECK(part.rms_v({"H1", "H2"}, 0.0).value_or(-1.0) < 1.0);
  CHECK(part.rms_v({"H1", "CASE"}, 0.0).value_or(0.0) == doctest::Approx(120.0).epsilon(0.01));  // one leg remains
  part.set_power(1000.0, false);
  CHECK(part.resistance_ohm({"L2", "H2"}) == doctest::Approx(0.012));
}

TEST_CASE("A meter that averages over the edge shows the r.m.s. share of the on time") {
  LiveSwitch part{regulator_timed(2.501, 3.755), exact(), 0.0};
  part.turn_knob(0.0, "medium");
  part.set_power(0.0, true);
  const double opens_s = part.contact().next_event_s();
  part.advance(opens_s + 0.25);
  CHECK(part.rms_v({"H1", "H2"}, 0.0).value_or(-1.0) < 0.3);
  CHECK(part.rms_v({"H1", "H2"}, 0.2).value_or(-1.0) < 0.3);
  CHECK(part.rms_v({"H1", "H2"}, 0.5).value_or(0.0) == doctest::Approx(240.0 * std::sqrt(0.5)).epsilon(0.002));
  CHECK(part.rms_v({"L1", "L2"}, 0.5).value_or(0.0) == doctest::Approx(240.0));
}

TEST_CASE("A hot contact reads open on ohms after power off and closes when it has cooled") {
  LiveSwitch part{regulator_timed(2.501, 3.755), exact(), 0.0};
  part.turn_knob(0.0, "medium");
  CHECK(part.resistance_ohm({"L2", "H2"}) == doctest::Approx(0.012));
  part.set_power(0.0, true);
  const double opens_s = part.contact().next_event_s();
  part.advance(opens_s + 0.1);
  part.set_power(opens_s + 0.1, false);
  CHECK(part.resistance_ohm({"L2", "H2"}) > 1e6);
  part.advance(opens_s + 10.0);
  CHECK(part.resistance_ohm({"L2", "H2"}) == doctest::Approx(0.012));
}

TEST_CASE("A knob that sits a position too far cycles as the next position") {
  SimulatorSettings settings = exact();
  LiveSwitch sound{regulator(), settings, 0.0};
  sound.turn_knob(0.0, "medium");
  settings.faults = {{FaultKind::clocked, "", "", 1.0}};
  LiveSwitch clocked{regulator(), settings, 0.0};
  clocked.turn_knob(0.0, "low");
  for (LiveSwitch* part : {&sound, &clocked}) part->set_power(0.0, true);
  CHECK(steady_cycle(clocked).on_s == doctest::Approx(steady_cycle(sound).on_s));
}

namespace {

/// Heater in the way of the load current, or none at all (the load current heats the bimetal itself); figures
/// invented.
Profile series_regulator(bool heater) {
  Profile profile = regulator_timed(2.501, 3.755);
  profile.elements.clear();
  if (!heater) return profile;
  profile.terminals.push_back("X");
  for (Contact& contact : profile.contacts)
    if (contact.id == "cycling") contact.between = {"L2", "X"};
  Element element;
  element.id = "heater";
  element.between = {"X", "H2"};
  element.nominal_ohm = 0.05;
  profile.elements.push_back(element);
  return profile;
}

}  // namespace

TEST_CASE("A series type follows the square of the load current") {
  // 24 ohm is the profile's load (2400 W at 240 V). First-order law: with the current at 208/240 the rise is
  // 150.22 K and the on time 4.279 s; with half the current it is 50 K and the contact never opens (75 and 85
  // K).
  for (const bool heater : {true, false}) {
    CAPTURE(heater);
    struct Row {
      double load_ohm;
      double on_s;
    };
    for (const Row& row : {Row{24.0, 2.501}, Row{24.0 * 240.0 / 208.0, 4.279}, Row{48.0, 0.0}}) {
      CAPTURE(row.load_ohm);
      SimulatorSettings settings = exact();
      settings.power.load_ohm = row.load_ohm;
      LiveSwitch part{series_regulator(heater), settings, 0.0};
      part.turn_knob(0.0, "medium");
      part.set_power(0.0, true);
      if (row.on_s > 0.0) {
        CHECK(steady_cycle(part).on_s == doctest::Approx(row.on_s).epsilon(0.005));
      } else {
        part.advance(1e5);
        CHECK(part.contact().openings() == 0);
      }
    }
  }
}

TEST_CASE("An uncompensated bimetal opens sooner in a warm room") {
  const auto on_s = [](double ambient_c, double compensation) {
    SimulatorSettings settings = exact();
    settings.power.ambient_c = ambient_c;
    settings.power.ambient_compensation = compensation;
    LiveSwitch part{regulator_timed(2.501, 3.755), settings, 0.0};
    part.turn_knob(0.0, "medium");
    part.set_power(0.0, true);
    return steady_cycle(part).on_s;
  };
  CHECK(on_s(40.0, 1.0) == doctest::Approx(2.501).epsilon(0.001));
  // 17 K head start: between 58 and 68 K on time is 30 s ln(142/132) = 2.191 s.
  CHECK(on_s(40.0, 0.0) == doctest::Approx(2.191).epsilon(0.005));
}

TEST_CASE("A profile without a powered part cannot be connected") {
  Profile profile = regulator();
  profile.powered.reset();
  LiveSwitch part{profile, exact(), 0.0};
  CHECK_THROWS_AS(part.set_power(0.0, true), std::invalid_argument);
  CHECK_FALSE(part.powered());
}

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
