#include "switchwright/judge/judge.hpp"

#include <doctest/doctest.h>

#include <string>
#include <vector>

#include "parts.hpp"

using namespace parts;

namespace {

struct Row {
  std::string what;
  Expectation expected;
  Indication indication;
  Witness witness;
  Outcome outcome;
  std::optional<DeviationKind> kind;
  std::optional<Severity> severity;
};

const auto not_needed = Witness::not_needed;
const auto witnessed = Witness::witnessed;
const auto stated = Witness::stated;
const auto missing = Witness::missing;
const auto pass = Outcome::pass;
const auto fail = Outcome::fail;
const auto undecided = Outcome::undecided;
const auto none = std::nullopt;
const auto critical = Severity::critical;
const auto major = Severity::major;
const auto minor_ = Severity::minor;
using K = DeviationKind;

Indication beeper_over_range() {
  Indication i = over_range();
  i.quantity = Quantity::continuity;
  return i;
}

void check(const std::vector<Row>& rows, const MeterDefinition& meter, DecisionRule rule) {
  for (const Row& row : rows) {
    CAPTURE(row.what);
    const Finding f =
        judge(row.expected, row.indication, row.witness, regulator(), meter, ideal_leads(), JudgeSettings{rule, 2.0});
    CAPTURE(f.sentence);
    CHECK(f.outcome == row.outcome);
    CHECK(f.kind == row.kind);
    CHECK(f.severity == row.severity);
    CHECK(f.sentence.ends_with('.'));
    CHECK(f.sentence.find(row.expected.pair.text()) != std::string::npos);
  }
}

}  // namespace

TEST_CASE("finite readings are judged with a guard band") {
  // Hand-held meter, 0.1 ohm digit, 0.8 % + 5 d: U near 0.3 ohm is 0.583 ohm, near 2 ohm 0.599 ohm
  // (arithmetic done apart from this program); at 14.4 kohm 168 ohm, at 1 Mohm (12000 + 3000)/sqrt(3) x 2
  // = 17.3 kohm.
  const Pair line{"L1", "H1"}, cycling{"L2", "H2"}, heater{"H1", "H2"}, pilot{"L1", "P"};
  check(
      {
          {"closed well inside", closed("low", line), reads(0.3), not_needed, pass, none, none},
          {"a negative reading within U is still closed", closed("low", line), reads(-0.2), not_needed, pass, none,
           none},
          {"not sound for certain, closed or not", closed("low", line), reads(1.6), not_needed, fail,
           K::high_resistance, major},
          {"not sound, within U above the closed limit", closed("low", line), reads(2.4), not_needed, fail,
           K::high_resistance, major},
          {"beyond the closed limit", closed("low", line), reads(5.0), not_needed, fail, K::high_resistance, major},
          {"a closed pair that reads as an open", closed("low", line), reads(5e6, 10e3), not_needed, fail,
           K::stays_open, major},
          {"open pair near zero can make live", open("off", cycling, true), reads(0.2), not_needed, fail,
           K::stays_closed, critical},
          {"open pair near zero cannot make live", open("off", pilot), reads(0.2), not_needed, fail, K::stays_closed,
           major},
          {"open pair reads a resistance and can make live", open("off", cycling, true), reads(20e3, 10), not_needed,
           fail, K::leaks, critical},
          {"open pair reads a resistance", open("off", pilot), reads(20e3, 10), not_needed, fail, K::leaks, minor_},
          {"open pair well above the limit", open("off", pilot), reads(5e6, 10e3), witnessed, pass, none, none},
          {"it may be fingers where nothing proves contact", open("off", pilot), reads(5e6, 10e3), missing, undecided,
           none, none},
          {"a caller that asks for no witness gets none", open("off", pilot), reads(5e6, 10e3), not_needed, undecided,
           none, none},
          {"closed below zero by more than U", closed("low", line), reads(-50), not_needed, undecided, none, none},
          {"open below zero by more than U", open("off", cycling, true), reads(-2), not_needed, undecided, none, none},
          {"open pair within U of the limit", open("off", pilot), reads(1.01e6, 1e3), not_needed, undecided, none,
           none},
          {"element inside its band", element("off", heater), reads(14400, 10), not_needed, pass, none, none},
          {"element within U of its lower limit", element("off", heater), reads(12300, 10), not_needed, undecided, none,
           none},
          {"element too low", element("off", heater), reads(8000, 10), not_needed, fail, K::out_of_band, major},
          {"element too high", element("off", heater), reads(20000, 10), not_needed, fail, K::out_of_band, major},
          {"element bridged", element("off", heater), reads(0.3), not_needed, fail, K::stays_closed, major},
          {"element bridged and so the load is live", element("off", heater, 12240, 16560, true), reads(0.3),
           not_needed, fail, K::stays_closed, critical},
      },
      handheld(), DecisionRule::guarded);
}

TEST_CASE("finite readings are judged without a guard band by the simple rule") {
  const Pair line{"L1", "H1"}, heater{"H1", "H2"}, pilot{"L1", "P"};
  check(
      {
          {"closed at the limit", closed("low", line, 2.0, 2.0), reads(2.0), not_needed, pass, none, none},
          {"closed above it", closed("low", line, 2.0, 2.0), reads(2.1), not_needed, fail, K::high_resistance, major},
          {"open above its limit", open("off", pilot), reads(1.01e6, 1e3), witnessed, pass, none, none},
          {"open below its limit", open("off", pilot), reads(0.99e6, 1e3), not_needed, fail, K::leaks, minor_},
          {"element at its lower limit", element("off", heater), reads(12240, 10), not_needed, pass, none, none},
          {"element below it", element("off", heater), reads(12230, 10), not_needed, fail, K::out_of_band, major},
      },
      handheld(), DecisionRule::simple);
}

TEST_CASE("over-range proves an open only where it reaches the limit and the probes touch") {
  const Pair line{"L1", "H1"}, heater{"H1", "H2"};
  check(
      {
          {"autorange and witnessed", open("off", line), over_range(), witnessed, pass, none, none},
          {"autorange and stated", open("off", line), over_range(), stated, pass, none, none},
          {"no witness", open("off", line), over_range(), missing, undecided, none, none},
          {"a caller that asks for no witness gets none", open("off", line), over_range(), not_needed, undecided, none,
           none},
          {"fixed 400 ohm range", open("off", line), over_range(400.0, false), witnessed, undecided, none, none},
          {"fixed high range", open("off", line), over_range(40e6, false), witnessed, pass, none, none},
          {"fixed range that is not told", open("off", line), over_range(none, false), witnessed, undecided, none,
           none},
          {"the beeper range ends too low to prove an open", open("off", line), beeper_over_range(), witnessed,
           undecided, none, none},
          {"the beeper range ends below the element", element("off", heater), beeper_over_range(), witnessed, undecided,
           none, none},
          {"the beeper range reaches far above closed", closed("low", line), beeper_over_range(), witnessed, fail,
           K::stays_open, major},
          {"closed expected and witnessed", closed("low", line), over_range(), witnessed, fail, K::stays_open, major},
          {"closed expected and stated", closed("low", line), over_range(), stated, fail, K::stays_open, major},
          {"closed expected without witness", closed("low", line), over_range(), missing, undecided, none, none},
          {"closed expected in a fixed 400 ohm range", closed("low", line), over_range(400.0, false), witnessed, fail,
           K::stays_open, major},
          {"element expected", element("off", heater), over_range(), witnessed, fail, K::stays_open, major},
          {"element beyond a fixed range", element("off", heater), over_range(4e3, false), witnessed, undecided, none,
           none},
      },
      handheld(), DecisionRule::guarded);
}

TEST_CASE("a meter whose function the tool selects is taken to autorange") {
  // SCPI-99: CONFigure without a range parameter leaves the range to the instrument.
  MeterDefinition polled = handheld();
  polled.functions = {{Quantity::resistance, {"CONF:RES"}}};
  const auto outcome = [&](const MeterDefinition& meter) {
    return judge(open("off", {"L1", "H1"}), over_range(none, false), witnessed, regulator(), meter, ideal_leads(), {})
        .outcome;
  };
  CHECK(outcome(polled) == pass);
  CHECK(outcome(handheld()) == undecided);
}

TEST_CASE("over-range of a meter that does not reach the open limit decides nothing") {
  const auto low_meter = meter_of({{Quantity::resistance, 200e3, 100, 0.8, 3}});
  const Finding f =
      judge(open("off", {"L1", "H1"}), over_range(), witnessed, regulator(), low_meter, ideal_leads(), {});
  CHECK(f.outcome == undecided);
  CHECK(f.sentence.find("highest range ends at 200 kohm") != std::string::npos);
}

TEST_CASE("the leads are subtracted before judging but never from four wires") {
  Leads leads;
  leads.before = reads(0.5, 0.01);
  leads.after = reads(0.5, 0.01);
  const Expectation line = closed("low", {"L1", "H1"}, 2.0, 2.0);
  const Finding two = judge(line, reads(2.30, 0.01), not_needed, regulator(), finer(), leads, {});
  CHECK(*two.corrected == doctest::Approx(1.80));
  CHECK(two.outcome == pass);
  auto meter = finer();
  meter.accuracy.push_back({Quantity::resistance_4_wire, 600, 0.01, 0.5, 3});
  Indication four_wire = reads(2.30, 0.01);
  four_wire.quantity = Quantity::resistance_4_wire;
  const Finding four = judge(line, four_wire, not_needed, regulator(), meter, leads, {});
  CHECK(*four.corrected == doctest::Approx(2.30));
  CHECK(four.outcome == fail);
}

TEST_CASE("sentences tell a person what was read and what it must be") {
  struct Said {
    Expectation expected;
    Indication indication;
    Witness witness;
    std::string sentence;
  };
  // U by hand: 0.2 ohm: a = 0.5016, u = hypot(0.28960, 0.02887) = 0.29103, U = 0.58 ohm.
  // 0.85 ohm on the finer meter: a = 0.03425, u = hypot(0.019774, 0.002887) = 0.019984, U = 0.04 ohm.
  // Heat by Joule's law: the rated load is 240 V / 15 A = 16 ohm; with 0.85 ohm before it 240 / 16.85 = 14.24 A are left,
  // and 14.24^2 x 0.85 = 172 W.
  const std::vector<Said> rows{
      {open("off", {"L2", "H2"}), reads(0.2), not_needed,
       "At off, L2-H2 reads 0.2 ohm (U 0.58 ohm) where it must be open (at least 1 Mohm): the contact stays "
       "closed."},
      {closed("low", {"L1", "H1"}), over_range(), missing,
       "At low, L1-H1 reads over-range (more than 40 Mohm) where it must be closed (at most 2 ohm): either "
       "it stays "
       "open or a probe does not touch; check that both probes touch and redo the step."},
      {open("off", {"L1", "H1"}), over_range(none, false), witnessed,
       "At off, L1-H1 reads over-range where it must be open (at least 1 Mohm): this meter does not show "
       "its range; set it to autorange, or to a range that reaches 1 Mohm, and state it once (--range auto, or --range "
       "40Mohm)."},
  };
  for (const Said& row : rows)
    CHECK(judge(row.expected, row.indication, row.witness, regulator(), handheld(), ideal_leads(), {}).sentence ==
          row.sentence);
  CHECK(
      judge(closed("low", {"L1", "H1"}), reads(0.85, 0.01), not_needed, regulator(), finer(), ideal_leads(), {})
          .sentence ==
      "At low, L1-H1 is closed, but 0.85 ohm (U 0.04 ohm) is more than a sound contact's 0.1 ohm: do not refit. In series "
      "with its load, where 14.2 A are left that is 172 W in the contact.");
}

TEST_CASE("a contact proven not sound fails though it conducts and one that the meter cannot resolve does not") {
  struct Sound {
    std::string what;
    double ohm;
    Outcome outcome, sound;
    std::optional<DeviationKind> kind;
  };
  // Finer meter: U near 0.1 ohm is 0.036 ohm.
  for (const Sound& row : std::vector<Sound>{{"sound", 0.02, pass, pass, none},
                                             {"near the limit", 0.09, pass, undecided, none},
                                             {"not sound", 0.30, fail, fail, K::high_resistance},
                                             {"not even closed", 5.0, fail, fail, K::high_resistance}}) {
    CAPTURE(row.what);
    const Finding f =
        judge(closed("low", {"L1", "H1"}), reads(row.ohm, 0.01), not_needed, regulator(), finer(), ideal_leads(), {});
    CHECK(f.outcome == row.outcome);
    CHECK(f.sound == row.sound);
    CHECK(f.kind == row.kind);
  }
  const Finding coarse =
      judge(closed("low", {"L1", "H1"}), reads(0.1), not_needed, regulator(), handheld(), ideal_leads(), {});
  CHECK(coarse.outcome == pass);
  CHECK(coarse.sound == undecided);
  const Finding unsound =
      judge(closed("low", {"L1", "H1"}), reads(0.30, 0.01), not_needed, regulator(), finer(), Leads{}, {});
  CHECK(unsound.continuity == pass);
}

TEST_CASE("a low battery or a meter without accuracy rows passes nothing and fails only what is far beyond") {
  MeterDefinition silent = handheld();
  silent.accuracy.clear();
  struct Row {
    std::string what;
    Expectation expected;
    Indication indication;
    Outcome outcome;
  };
  const Pair line{"L1", "H1"}, cycling{"L2", "H2"}, heater{"H1", "H2"};
  for (const Row& row :
       std::vector<Row>{{"closed", closed("low", line), reads(0.1), undecided},
                        {"open", open("off", cycling, true), over_range(40e6), undecided},
                        {"element", element("off", heater), reads(14400, 10), undecided},
                        {"element out of its band", element("off", heater), reads(18000, 10), undecided},
                        {"not sound", closed("low", line), reads(1.5), fail},
                        {"welded", open("off", cycling, true), reads(0.2), fail}}) {
    CAPTURE(row.what);
    Indication low = row.indication;
    low.flags.low_battery = true;
    const Finding battery = judge(row.expected, low, witnessed, regulator(), handheld(), Leads{}, {});
    CHECK(battery.outcome == row.outcome);
    CHECK(battery.kind.has_value() == (row.outcome == fail));
    CHECK(battery.sentence.find("battery") != std::string::npos);
    if (row.indication.state != ReadingState::finite) continue;
    const Finding unknown = judge(row.expected, row.indication, witnessed, regulator(), silent, Leads{}, {});
    CHECK(unknown.outcome == row.outcome);
  }
}

TEST_CASE("a reading in volts or without a value judges nothing") {
  Indication volts = reads(0.2);
  volts.quantity = Quantity::voltage_dc;
  const Finding f = judge(closed("low", {"L1", "H1"}), volts, not_needed, regulator(), handheld(), ideal_leads(), {});
  CHECK(f.outcome == undecided);
  CHECK(f.sentence == "At low, L1-H1 was measured in DC volts; turn the dial to ohms and redo the step.");
}

TEST_CASE("what a meter cannot decide is said before the work") {
  const auto said = undecidable(regulator(), handheld());
  REQUIRE(said.size() == 1);
  // By hand: 0.1 ohm: a = 0.5008, u = 0.29057, U = 0.58 ohm; drop at the limit 0.1 ohm x 1 A = 100 mV (Ohm's
  // law).
  CHECK(said[0] ==
        "This meter cannot decide whether a closed contact is sound (at most 0.1 ohm): U is 0.58 ohm there. Measure "
        "with four wires, or measure the millivolt drop under a known current (100 mV at 1 A is the limit).");
  CHECK(undecidable(regulator(), finer()).empty());

  const auto coarse = meter_of({{Quantity::resistance, 200e3, 100, 0.8, 3}});
  const auto many = undecidable(regulator(), coarse);
  REQUIRE(many.size() == 3);
  CHECK(many[0].find("is closed (at most 2 ohm)") != std::string::npos);
  CHECK(many[1].find("is sound") != std::string::npos);
  CHECK(many[2].find("its highest range ends at 200 kohm") != std::string::npos);

  Profile tight = regulator();
  tight.elements[0].tolerance_pct = 0.5;
  const auto band = undecidable(tight, handheld());
  REQUIRE(band.size() == 2);
  CHECK(band[1].find("the heater (14.4 kohm within 0.5 %)") != std::string::npos);

  const auto silent = undecidable(regulator(), MeterDefinition{});
  REQUIRE(silent.size() == 1);
  CHECK(silent[0].find("gives no accuracy for ohms") != std::string::npos);
}
