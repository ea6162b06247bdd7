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

MeterDefinition wide_volts() {
  return parts::meter_of({{Quantity::voltage_dc, 0.4, 1e-4, 0.5, 2}, {Quantity::voltage_dc, 40, 1e-4, 0.5, 2}});
}

Indication shows(double volt) {
  Indication i;
  i.quantity = Quantity::voltage_dc;
  i.value = volt;
  i.resolution = 1e-4;
  i.readings = 3;
  return i;
}

/// Zero, then on; the zero is the same afterwards.
Drop judged(double on_v, const KnownCurrent& current, double sound_ohm, double zero_v = 0.0,
            DecisionRule rule = DecisionRule::guarded) {
  return judge_drop("line", {shows(zero_v), shows(on_v), shows(zero_v), {}, current.amps, 0.0}, current,
                    {sound_ohm, 2.0}, millivolts(), rule);
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

TEST_CASE("resistance is the change over the current and its uncertainty that of both readings and of the current") {
  // By hand: 50 mV, 1 A. On: a = 0.25 + 0.2 = 0.45 mV, u = a/sqrt(3) = 0.2598 mV; resolution 0.1/sqrt(12) = 0.0289 mV;
  // together 0.2614 mV. Zero: a = 0.2 mV, u = 0.1155 mV, with the resolution 0.1190 mV. The change: 0.2872 mV.
  // Current u = 0.005 A: 50 mohm x 0.005 = 0.25 mohm. u(R) = 0.3808 mohm, U = 0.762 mohm.
  const Drop drop = judged(0.050, {1.0, 0.01}, 0.1);
  CHECK(drop.ohm == doctest::Approx(0.050));
  CHECK(drop.U_ohm == doctest::Approx(0.000762).epsilon(2e-3));
  CHECK(drop.outcome == Outcome::pass);
  CHECK(drop.spot_c == doctest::Approx(60.8).epsilon(2e-3));  // Holm's table: 50 mV, body 20 degC
  CHECK_FALSE(drop.thermal_v);
}

TEST_CASE("drops beyond the limit fail and those too near to it are undecided") {
  CHECK(judged(0.150, {1.0, 0.01}, 0.1).outcome == Outcome::fail);
  CHECK(judged(0.1004, {1.0, 0.01}, 0.1).outcome == Outcome::undecided);
  CHECK(judged(0.1004, {1.0, 0.01}, 0.1, 0.0, DecisionRule::simple).outcome == Outcome::fail);
  // At 10 mA the meter's digit is 10 mohm: a limit of 20 mohm cannot be decided; at 5 A it can.
  CHECK(judged(0.0001, {0.01, 0.0001}, 0.02).outcome == Outcome::undecided);
  CHECK(judged(0.050, {5.0, 0.05}, 0.02).outcome == Outcome::pass);
}

TEST_CASE("the drift of the zero is in the uncertainty") {
  // By hand: zeros of 0 and 1.2 mV; the mean 0.6 mV is taken out; 1.2/sqrt(12) = 0.346 mV joins 0.2872 mV (above, the zero
  // at 0.6 mV has u 0.1208 mV) to 0.4503 mV.
  const Drop drop = judge_drop("line", {shows(0.0), shows(0.0506), shows(0.0012), {}, 1.0, 0.0}, {1.0, 1e-9},
                               {0.1, 2.0}, millivolts());
  CHECK(drop.ohm == doctest::Approx(0.050));
  CHECK(*drop.drift_v == doctest::Approx(0.0012));
  CHECK(drop.U_drop_v == doctest::Approx(2 * 0.00045).epsilon(0.01));
}

TEST_CASE("reversing the current takes out the thermal voltage that comes with it") {
  // 2 mohm at 1 A is 2 mV; a thermal voltage of 0.5 mV adds in one direction and subtracts in the other (ASTM B539).
  const Drop both = judge_drop("line", {shows(0.0005), shows(0.0025), shows(0.0005), shows(-0.0015), 1.0, 0.0},
                               {1.0, 0.01}, {0.1, 2.0}, millivolts());
  CHECK(both.state == DropState::seen);
  CHECK(both.ohm == doctest::Approx(0.002));
  CHECK(*both.thermal_v == doctest::Approx(0.0005));
  CHECK(both.sentence.find("thermal") != std::string::npos);
}

TEST_CASE("what is no drop is told from one and never sound") {
  struct Row {
    const char* what;
    DropReadings readings;
    DropState state;
    Outcome outcome;
  };
  const auto zero = shows(0.0);
  Indication over = shows(0.0);
  over.state = ReadingState::over_range;
  Indication beyond_4_v = over;
  beyond_4_v.beyond = 4.0;
  const Row rows[] = {
      {"nothing at all", {zero, zero, zero, {}, {}}, DropState::no_current, Outcome::undecided},
      {"a thermal voltage with the supply dead",
       {shows(4e-4), shows(4e-4), shows(4e-4), {}, {}},
       DropState::no_current,
       Outcome::undecided},
      {"a thermal voltage that grows",
       {zero, shows(6e-4), shows(12e-4), {}, {}},
       DropState::no_current,
       Outcome::undecided},
      {"one that grew once and stays",
       {zero, shows(1e-3), shows(1e-3), {}, {}},
       DropState::no_current,
       Outcome::undecided},
      {"a current that was always on",
       {shows(0.02), shows(0.02), shows(0.02), {}, {}},
       DropState::not_zero,
       Outcome::undecided},
      {"a current on first and then off",
       {shows(0.02), zero, shows(0.02), {}, {}},
       DropState::not_zero,
       Outcome::undecided},
      {"a current that was not switched off again",
       {zero, shows(0.02), shows(0.02), {}, {}},
       DropState::not_zero,
       Outcome::undecided},
      {"a zero beyond the range", {over, shows(0.02), zero, {}, {}}, DropState::not_zero, Outcome::undecided},
      {"clips not exchanged", {zero, shows(0.02), zero, shows(0.02), {}}, DropState::one_way, Outcome::undecided},
      {"a current in one direction only: 150 mohm would look like 75",
       {zero, shows(0.15), zero, zero, {}},
       DropState::one_way,
       Outcome::undecided},
      {"half the current the other way",
       {zero, shows(0.15), zero, shows(-0.07), {}},
       DropState::one_way,
       Outcome::undecided},
      {"another current on the display",
       {zero, shows(0.02), zero, {}, 0.5, 0.0},
       DropState::other_current,
       Outcome::undecided},
      {"a current that nobody has read",
       {zero, shows(0.02), zero, {}, {}, 0.0},
       DropState::current_not_read,
       Outcome::undecided},
      {"the same, with far too much of a drop",
       {zero, shows(0.9), zero, {}, {}, 0.0},
       DropState::current_not_read,
       Outcome::undecided},
      {"a display that nobody has seen without a current",
       {zero, shows(0.02), zero, {}, 1.0, {}},
       DropState::current_not_read,
       Outcome::undecided},
      {"a display that shows what is set",
       {zero, shows(0.02), zero, {}, 1.0, 1.0},
       DropState::shows_setting,
       Outcome::undecided},
      {"a display that is off by more than its U with nothing flowing",
       {zero, shows(0.02), zero, {}, 1.0, 0.02},
       DropState::shows_setting,
       Outcome::undecided},
      {"a display that shows some of what is set",
       {zero, shows(0.02), zero, {}, 1.0, 0.06},
       DropState::shows_setting,
       Outcome::undecided},
      {"the supply over an open contact", {zero, shows(12.0), zero, {}, 0.0}, DropState::open, Outcome::fail},
      {"the same the other way round", {zero, shows(-12.0), zero, {}, {}}, DropState::open, Outcome::fail},
      {"a range that the open contact exceeds", {zero, beyond_4_v, zero, {}, {}}, DropState::open, Outcome::fail},
      {"a range that says nothing", {zero, over, zero, {}, {}}, DropState::beyond, Outcome::undecided},
      {"a contact that is not sound", {zero, shows(-0.15), zero, {}, 1.0, 0.0}, DropState::seen, Outcome::fail},
      {"a sound one",
       {shows(-3e-4), shows(0.02), shows(-2e-4), shows(-0.0205), 1.005, -0.005},
       DropState::seen,
       Outcome::pass},
  };
  for (const Row& row : rows) {
    CAPTURE(std::string{row.what});
    const Drop drop = judge_drop("line", row.readings, {1.0, 0.01}, {0.1, 2.0}, wide_volts());
    CHECK(to_string(drop.state) == to_string(row.state));
    CHECK(drop.outcome == row.outcome);
  }
}

TEST_CASE("a wide U of the current makes no display believable that shows one where none flows") {
  CHECK_FALSE(follows_current(0.5, {1.0, 0.6}));
  CHECK(follows_current(0.04, {1.0, 0.6}));
  CHECK_FALSE(follows_current(0.04, {1.0, 0.01}));
  CHECK(follows_current(-0.01, {1.0, 0.01}));
}

TEST_CASE("what is no voltage is refused") {
  CHECK_THROWS_AS(
      judge_drop("line", {parts::reads(0.1), shows(0.1), {}, {}, {}}, {1.0, 0.01}, {0.1, 2.0}, millivolts()), Error);
  CHECK_THROWS_AS(judged(0.1, {0.0, 0.0}, 0.1), Error);
}

TEST_CASE("the least current that decides follows from the limit and the meter") {
  // By hand: half of 0.1 ohm at I is 0.05 I V. Of one reading U = 2 x 0.2 mV / sqrt(3), resolution 0.1 mV / sqrt(12) in square:
  // 0.238 mV; of two 0.337 mV; 0.05 I = U gives I = 6.7 mA (the term of 0.5 % of 0.05 I adds 0.2 % of it).
  const auto least = least_current_a(millivolts(), 0.1);
  REQUIRE(least);
  CHECK(*least == doctest::Approx(0.0067).epsilon(0.06));
  CHECK_FALSE(least_current_a(parts::meter_of({{Quantity::resistance, 400, 0.1, 0.8, 3}}), 0.1));
}
