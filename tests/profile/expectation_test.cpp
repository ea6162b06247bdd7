#include "switchwright/profile/expectation.hpp"

#include <doctest/doctest.h>
#include <fmt/format.h>

#include <cmath>
#include <random>

#include "switchwright/profile/library.hpp"

using namespace switchwright;

namespace {

const std::filesystem::path shipped = std::filesystem::path(SOURCE_DIR) / "profiles";

Expectation at(const Profile& profile, const std::string& position, const std::string& a, const std::string& b) {
  return expectation(profile, position, Pair(a, b));
}

}  // namespace

// Wiring of a two-pole energy regulator: common practice, no source. L1 reaches H1 and the lamp terminal P
// whenever the knob is on; L2 reaches H2 through the cycling contact, closed when cold, shut at the highest
// setting; at off everything is open but for the path through the heater between H1 and H2.
TEST_CASE("a regulator reads as the trade expects at every position") {
  struct Row {
    const char* a;
    const char* b;
    PairState at_off;
    PairState at_on;
  };
  const auto open = PairState::open;
  const auto closed = PairState::closed;
  const auto element = PairState::element;
  const Row rows[] = {
      {"L1", "H1", open, closed},  {"L1", "P", open, closed},      {"L2", "H2", open, closed},
      {"H1", "P", open, closed},   {"H1", "H2", element, element}, {"L1", "L2", open, element},
      {"L1", "H2", open, element}, {"L2", "H1", open, element},    {"L2", "P", open, element},
      {"H2", "P", open, element},  {"L1", "CASE", open, open},     {"L2", "CASE", open, open},
      {"H1", "CASE", open, open},  {"H2", "CASE", open, open},     {"P", "CASE", open, open},
  };
  for (const char* id : {"regulator-shunt-120", "regulator-shunt-208", "regulator-shunt-240"}) {
    const Profile profile = load_profile(id, {shipped});
    CHECK(profile.pairs().size() == std::size(rows));
    for (const Row& row : rows) {
      CAPTURE(id);
      CAPTURE(row.a);
      CAPTURE(row.b);
      CHECK(to_string(at(profile, "off", row.a, row.b).state) == to_string(row.at_off));
      for (const char* on : {"low", "medium", "high"})
        CHECK(to_string(at(profile, on, row.a, row.b).state) == to_string(row.at_on));
    }
  }
}

// 240 V and 4 W is 14.4 kohm, by V^2/P; tolerance 15 % as the profile says. A chain of two closed contacts
// may have twice the limit of one; an open contact in series with the heater has at least the sum.
TEST_CASE("expected intervals follow from series paths by hand calculation") {
  const Profile profile = load_profile("regulator-shunt-240", {shipped});
  struct Row {
    const char* position;
    const char* a;
    const char* b;
    double min;
    double max;
    double nominal;  // infinite: absent
  };
  const double inf = std::numeric_limits<double>::infinity();
  const Row rows[] = {
      {"off", "H1", "H2", 14400 * 0.85, 14400 * 1.15, 14400},
      {"off", "L1", "H1", 1e6, inf, inf},
      {"off", "L1", "L2", 1e6 + 14400 * 0.85 + 1e6, inf, inf},
      {"off", "L1", "H2", 1e6 + 14400 * 0.85, inf, inf},
      {"off", "H1", "P", 2e6, inf, inf},
      {"off", "L1", "CASE", 1e6, inf, inf},
      {"low", "L1", "H1", 0, 2, 0},
      {"low", "L2", "H2", 0, 2, 0},
      {"high", "H1", "P", 0, 4, 0},
      {"medium", "L1", "L2", 14400 * 0.85, 14400 * 1.15 + 4, 14400},
      {"medium", "L2", "P", 14400 * 0.85, 14400 * 1.15 + 6, 14400},
      {"medium", "P", "CASE", 1e6, inf, inf},
  };
  for (const Row& row : rows) {
    CAPTURE(row.position);
    CAPTURE(row.a);
    CAPTURE(row.b);
    const Expectation expected = at(profile, row.position, row.a, row.b);
    CHECK(expected.ohm.min == doctest::Approx(row.min).epsilon(1e-12));
    if (std::isinf(row.max)) {
      CHECK_FALSE(expected.ohm.bounded_above());
      CHECK_FALSE(expected.nominal_ohm.has_value());
    } else {
      CHECK(expected.ohm.max == doctest::Approx(row.max).epsilon(1e-12));
      CHECK(expected.nominal_ohm.value() == doctest::Approx(row.nominal).epsilon(1e-12));
    }
  }
}

// Ohm's law, profile: 350 mV at the rated 15 A are 23.3 milliohm; a pilot that carries 20 mA could have 17.5 ohm, and is held
// to the closed limit of 2 ohm.
TEST_CASE("only closed pairs have a sound limit and it counts each contact on the way at its own current") {
  const Profile profile = load_profile("regulator-shunt-240", {shipped});
  CHECK(at(profile, "low", "L1", "H1").sound_max_ohm.value() == doctest::Approx(0.350 / 15.0));
  CHECK(at(profile, "low", "L1", "P").sound_max_ohm.value() == doctest::Approx(2.0));
  CHECK(at(profile, "low", "H1", "P").sound_max_ohm.value() == doctest::Approx(2.0 + 0.350 / 15.0));
  CHECK_FALSE(at(profile, "off", "L1", "H1").sound_max_ohm.has_value());
  CHECK_FALSE(at(profile, "low", "H1", "H2").sound_max_ohm.has_value());
}

TEST_CASE("a wrongly low reading is critical where it could make the load or the case live") {
  const Profile profile = load_profile("regulator-shunt-240", {shipped});
  struct Row {
    const char* position;
    const char* a;
    const char* b;
    bool can_make_live;
  };
  const Row rows[] = {
      {"off", "L1", "H1", true},  {"off", "L2", "H2", true},   {"off", "L1", "P", true},
      {"off", "H1", "H2", false}, {"off", "L1", "CASE", true}, {"low", "H2", "CASE", true},
      {"low", "L1", "H1", false}, {"high", "L2", "H2", false}, {"low", "L1", "L2", false},
  };
  for (const Row& row : rows) {
    CAPTURE(row.position);
    CAPTURE(row.a);
    CAPTURE(row.b);
    CHECK(at(profile, row.position, row.a, row.b).can_make_live == row.can_make_live);
  }
}

TEST_CASE("a pair that is left out says why at the positions it is left out") {
  Profile profile = load_profile("regulator-shunt-240", {shipped});
  profile.not_checked.push_back({Pair("P", "L1"), {"off"}, "the lamp is wired in"});
  CHECK(at(profile, "off", "L1", "P").state == PairState::not_checked);
  CHECK(at(profile, "off", "L1", "P").reason == "the lamp is wired in");
  CHECK(at(profile, "low", "L1", "P").state == PairState::closed);
}

TEST_CASE("unknown names are refused") {
  const Profile profile = load_profile("regulator-shunt-240", {shipped});
  CHECK_THROWS_AS(at(profile, "of", "L1", "P"), std::out_of_range);
  CHECK_THROWS_AS(at(profile, "off", "L1", "Q"), std::out_of_range);
}

// What the interval is for: every switch whose parts are inside their limits reads inside it.
TEST_CASE("a thousand good switches read inside the expected intervals") {
  std::mt19937 random(20240229);
  std::uniform_real_distribution<double> unit(0.0, 1.0);
  for (const std::string& id : list_profiles({shipped})) {
    const Profile profile = load_profile(id, {shipped});
    const std::vector<Expectation> all = expectations(profile);
    for (int i = 0; i < 1000; ++i) {
      const Position& position = profile.positions[random() % profile.positions.size()];
      std::vector<Resistor> resistors;
      for (const Contact& contact : profile.contacts) {
        const double closed = profile.limits.closed_max_ohm * unit(random);
        const double open = i % 2 == 0 ? std::numeric_limits<double>::infinity()
                                       : profile.limits.open_min_ohm * (1.0 + 99.0 * unit(random));
        resistors.push_back({contact.id, contact.between.first(), contact.between.second(),
                             contact.conducts_at(position.id) ? closed : open});
      }
      for (const Element& element : profile.elements)
        resistors.push_back({element.id, element.between.first(), element.between.second(),
                             element.nominal_ohm * (1.0 + element.tolerance_pct / 100.0 * (2.0 * unit(random) - 1.0))});
      const Network network(profile.network_nodes(), resistors);
      for (const Expectation& expected : all) {
        if (expected.position != position.id) continue;
        const double ohm = network.resistance_ohm(expected.pair.first(), expected.pair.second());
        const double slack = 1e-9 * expected.ohm.min;
        if (ohm < expected.ohm.min - slack || ohm > expected.ohm.max * (1.0 + 1e-9)) {
          CAPTURE(id);
          CAPTURE(position.id);
          CAPTURE(expected.pair.text());
          CAPTURE(ohm);
          FAIL_CHECK("outside the expected interval");
        }
      }
    }
  }
}
