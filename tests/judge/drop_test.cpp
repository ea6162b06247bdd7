// The millivolt drop under a known current, against U = I R and the law of propagation of uncertainty worked by hand.
#include "switchwright/judge/drop.hpp"

#include <doctest/doctest.h>

#include <cmath>

#include "parts.hpp"
#include "switchwright/core/error.hpp"

using namespace switchwright;

namespace {

/// 0.1 mV digits, 0.5 % + 2 digits; invented.
MeterDefinition millivolts() { return parts::meter_of({{Quantity::voltage_dc, 0.4, 1e-4, 0.5, 2}}); }

Indication shows(double volt) {
  Indication i;
  i.quantity = Quantity::voltage_dc;
  i.value = volt;
  i.resolution = 1e-4;
  i.readings = 3;
  return i;
}

}  // namespace

TEST_CASE("a known current is read with its uncertainty") {
  CHECK(parse_current("1A@0.01").amps == 1.0);
  CHECK(parse_current("1A@0.01").U_amps == 0.01);
  CHECK(parse_current("2@1%").U_amps == doctest::Approx(0.02));
  CHECK(parse_current("0.5A").U_amps == doctest::Approx(0.005));
  for (const char* wrong : {"", "A", "0A", "-1A", "1A@", "1A@0", "1A@2", "1A 2", "1A@1%%", "nan", "1V"}) {
    CAPTURE(wrong);
    CHECK_THROWS_AS(parse_current(wrong), Error);
  }
}

TEST_CASE("resistance is drop over current and its uncertainty that of both") {
  // By hand: 50 mV, 1 A. a = 0.25 + 0.2 = 0.45 mV, u = a/sqrt(3) = 0.2598 mV; resolution 0.1/sqrt(12) = 0.0289 mV;
  // together 0.2614 mV. Current u = 0.005 A: 50 mohm x 0.005 = 0.25 mohm. u(R) = 0.3617 mohm, U = 0.723 mohm.
  const Drop drop = judge_drop("line", shows(0.050), {}, {1.0, 0.01}, 0.1, millivolts());
  CHECK(drop.ohm == doctest::Approx(0.050));
  CHECK(drop.U_ohm == doctest::Approx(0.000723).epsilon(2e-3));
  CHECK(drop.outcome == Outcome::pass);
  CHECK(drop.spot_c == doctest::Approx(60.8).epsilon(2e-3));  // Holm's table: 50 mV, body 20 degC
  CHECK_FALSE(drop.thermal_v);
}

TEST_CASE("drops beyond the limit fail and those too near to it are undecided") {
  CHECK(judge_drop("line", shows(0.150), {}, {1.0, 0.01}, 0.1, millivolts()).outcome == Outcome::fail);
  CHECK(judge_drop("line", shows(0.1004), {}, {1.0, 0.01}, 0.1, millivolts()).outcome == Outcome::undecided);
  CHECK(judge_drop("line", shows(0.1004), {}, {1.0, 0.01}, 0.1, millivolts(), DecisionRule::simple).outcome == Outcome::fail);
  // At 10 mA the meter's digit is 10 mohm: a limit of 20 mohm cannot be decided; at 5 A it can.
  CHECK(judge_drop("line", shows(0.0001), {}, {0.01, 0.0001}, 0.02, millivolts()).outcome == Outcome::undecided);
  CHECK(judge_drop("line", shows(0.050), {}, {5.0, 0.05}, 0.02, millivolts()).outcome == Outcome::pass);
}

TEST_CASE("reversing the current takes out the thermal voltage") {
  // 2 mohm at 1 A is 2 mV; a thermal voltage of 0.5 mV adds in one direction and subtracts in the other (ASTM B539).
  const Drop both = judge_drop("line", shows(0.0025), shows(-0.0015), {1.0, 0.01}, 0.1, millivolts());
  CHECK(both.ohm == doctest::Approx(0.002));
  CHECK(*both.thermal_v == doctest::Approx(0.0005));
  CHECK(both.sentence.find("thermal") != std::string::npos);
  CHECK(judge_drop("line", shows(0.0025), {}, {1.0, 0.01}, 0.1, millivolts()).ohm == doctest::Approx(0.0025));
}

TEST_CASE("what is no voltage is refused") {
  CHECK_THROWS_AS(judge_drop("line", parts::reads(0.1), {}, {1.0, 0.01}, 0.1, millivolts()), Error);
  Indication over = shows(0.0);
  over.state = ReadingState::over_range;
  CHECK_THROWS_AS(judge_drop("line", over, {}, {1.0, 0.01}, 0.1, millivolts()), Error);
  CHECK_THROWS_AS(judge_drop("line", shows(0.1), {}, {0.0, 0.0}, 0.1, millivolts()), Error);
}

TEST_CASE("the least current that decides follows from the limit and the meter") {
  // By hand: half of 0.1 ohm at I is 0.05 I V. U = 2 (0.5 % x 0.05 I + 2 x 0.1 mV) / sqrt(3), resolution 0.1 mV / sqrt(12) in
  // square; 0.05 I + U = 0.1 I gives I = 4.7 mA (the term in I is 0.6 % of it).
  const auto least = least_current_a(millivolts(), 0.1);
  REQUIRE(least);
  CHECK(*least == doctest::Approx(0.0047).epsilon(0.06));
  CHECK_FALSE(least_current_a(parts::meter_of({{Quantity::resistance, 400, 0.1, 0.8, 3}}), 0.1));
}

TEST_CASE("a drop no larger than the meter's own uncertainty is no proof of a current") {
  CHECK_FALSE(judge_drop("line", shows(0.0), {}, {1.0, 0.01}, 0.1, millivolts()).above_zero());
  CHECK_FALSE(judge_drop("line", shows(0.0002), {}, {1.0, 0.01}, 0.1, millivolts()).above_zero());
  CHECK(judge_drop("line", shows(0.0005), {}, {1.0, 0.01}, 0.1, millivolts()).above_zero());
}
