// The shipped profiles against the wiring that the trade knows (common practice, no source) and first
// principles.
#include <doctest/doctest.h>

#include <string>

#include "switchwright/profile/expectation.hpp"
#include "switchwright/profile/library.hpp"
#include "switchwright/profile/powered.hpp"

using namespace switchwright;

TEST_CASE("each kind of part reads as its wiring says") {
  struct Row {
    const char* id;
    const char* position;
    const char* a;
    const char* b;
    const char* state;
  };
  const Row rows[] = {
      {"interlock-door", "open", "COM", "NO", "open"},
      {"interlock-door", "open", "COM", "NC", "closed"},
      {"interlock-door", "closed", "COM", "NO", "closed"},
      {"interlock-door", "closed", "COM", "NC", "open"},
      {"interlock-door", "closed", "NO", "NC", "open"},
      {"high-limit-manual-reset", "reset", "1", "2", "closed"},
      {"high-limit-manual-reset", "tripped", "1", "2", "open"},
      {"thermostat-pilot", "set", "1", "2", "closed"},
      {"thermostat-pilot", "satisfied", "1", "2", "open"},
      {"thermostat-pilot", "satisfied", "1", "P", "closed"},
      {"thermostat-pilot", "off", "1", "P", "open"},
      {"contactor-two-pole", "released", "L1", "T1", "open"},
      {"contactor-two-pole", "energised", "L1", "T1", "closed"},
      {"contactor-two-pole", "energised", "L1", "T2", "open"},
      {"contactor-two-pole", "released", "A1", "A2", "element"},
      {"contactor-two-pole", "energised", "A1", "A2", "not-checked"},
      {"rocker-lamp", "off", "1", "2", "open"},
      {"rocker-lamp", "off", "2", "3", "element"},
      {"rocker-lamp", "on", "1", "3", "element"},
      {"relay-changeover", "released", "11", "12", "closed"},
      {"relay-changeover", "released", "11", "14", "open"},
      {"relay-changeover", "released", "12", "14", "open"},
      {"relay-changeover", "energised", "21", "24", "closed"},
      {"relay-changeover", "energised", "11", "21", "open"},
      {"regulator-both-legs-240", "low", "L1", "H1", "closed"},
      {"regulator-both-legs-240", "off", "H1", "H2", "element"},
      {"regulator-dual-240", "inner-low", "H2", "H3", "open"},
      {"regulator-dual-240", "both-low", "L2", "H3", "closed"},
      {"regulator-series-240", "low", "L2", "H2", "element"},
      {"regulator-series-240", "off", "H1", "H2", "open"},
      {"selector-three-heat", "low", "L1", "T3", "open"},
      {"selector-three-heat", "high", "T1", "T3", "closed"},
  };
  for (const Row& row : rows) {
    CAPTURE(row.id);
    CAPTURE(row.position);
    CAPTURE(row.a);
    CAPTURE(row.b);
    const Profile profile = load_profile(row.id, {std::filesystem::path(SOURCE_DIR) / "profiles"});
    CHECK(to_string(expectation(profile, row.position, Pair(row.a, row.b)).state) == row.state);
  }
}

// Two equal elements: each on the whole supply at high, one at medium, half the supply each at low (series).
TEST_CASE("a three-heat selector puts the supply where its heat comes from") {
  const Profile profile = load_profile("selector-three-heat", {std::filesystem::path(SOURCE_DIR) / "profiles"});
  struct Row {
    const char* position;
    double first_v;
    double second_v;
  };
  for (const Row& row : {Row{"off", 0, 0}, Row{"low", 120, 120}, Row{"medium", 240, 0}, Row{"high", 240, 240}})
    for (const VoltageExpectation& expected : voltage_expectations(profile)) {
      CAPTURE(row.position);
      if (expected.position != row.position) continue;
      if (expected.pair == Pair("T1", "T2")) CHECK(expected.nominal_v.value() == doctest::Approx(row.first_v));
      if (expected.pair == Pair("T2", "T3")) CHECK(expected.nominal_v.value() == doctest::Approx(row.second_v));
    }
}
