// One settled voltage against its bands.
#include "switchwright/judge/judge_voltage.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>

#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/judge/conformance.hpp"
#include "judge/volt_wording.hpp"
#include "switchwright/judge/wording.hpp"

namespace switchwright {

namespace {

constexpr double infinity = std::numeric_limits<double>::infinity();

const Powered& powered_of(const Profile& profile) {
  if (!profile.powered)
    throw Error(ErrorKind::usage, "this profile says nothing about power", profile.path.string(),
                "add a [powered] part with the supply and the load");
  return *profile.powered;
}

/// A magnitude has no lower limit where nothing may be: the first band of a dead pair reaches down for ever.
std::vector<Interval> tolerances_of(const VoltageExpectation& expected) {
  std::vector<Interval> bands = expected.bands;
  if (expected.state == VoltageState::not_checked && expected.stray_max_v) bands = {{0.0, *expected.stray_max_v}};
  for (Interval& band : bands)
    if (band.min <= 0.0) band.min = -infinity;
  return bands;
}

/// Right in any band; wrong only when outside all of them.
Outcome decide_in_bands(double volts, double U, const std::vector<Interval>& bands, DecisionRule rule) {
  Outcome best = Outcome::fail;
  for (const Interval& band : bands) {
    const Outcome here = decide(volts, U, band, rule);
    if (here == Outcome::pass) return here;
    if (here == Outcome::undecided) best = here;
  }
  return best;
}

void deviates(VoltageFinding& finding, DeviationKind kind, Severity severity = Severity::major) {
  finding.kind = kind;
  finding.severity = severity;
}

/// What a failed voltage is called, and the words for it.
std::string name_deviation(VoltageFinding& finding, double volts, const Profile& profile) {
  const VoltageExpectation& expected = finding.expected;
  const Powered& powered = powered_of(profile);
  const std::vector<Interval> bands = tolerances_of(expected);
  const bool must_be_dead = bands.size() == 1 && !bands.front().bounded_below();
  if (must_be_dead && volts > bands.front().max) {
    if (expected.live_is_critical) {
      deviates(finding, DeviationKind::live, Severity::critical);
      return profile.is_exposed_metal(expected.pair.first()) || profile.is_exposed_metal(expected.pair.second())
                 ? "a point that must be off is live to exposed metal"
                 : "the load is live";
    }
    // A quarter of the supply is far more than any contact that still conducts lets drop.
    if (expected.state == VoltageState::dead && volts < 0.25 * powered.voltage_v) {
      deviates(finding, DeviationKind::high_resistance);
      return "more drops here than sound contacts let drop";
    }
    deviates(finding, DeviationKind::live);
    return expected.state == VoltageState::dead ? "the supply stands across the two" : "something joins it to the supply";
  }
  if (volts <= powered.dead_max_v) {
    deviates(finding, DeviationKind::dead);
    return "no voltage arrives";
  }
  if (volts > bands.back().max) {
    deviates(finding, DeviationKind::out_of_band);
    return "the voltage is too high";
  }
  deviates(finding, DeviationKind::low_voltage);
  return "the voltage is too low";
}

std::string place_words(const VoltageExpectation& expected, const Profile& profile) {
  return fmt::format("At {}, {}", wording::place(profile, expected.position), expected.pair.text());
}

void judge_finite(VoltageFinding& finding, const std::string& where, const Profile& profile,
                  const MeterDefinition& meter, const JudgeSettings& settings) {
  const Indication& indication = finding.indication;
  const double volts = std::abs(indication.value);
  const double U =
      uncertainty_of(meter, indication.quantity, volts, indication.resolution, nullptr, settings.k).U;
  finding.volts = volts;
  finding.U = U;
  finding.outcome = decide_in_bands(volts, U, tolerances_of(finding.expected), settings.rule);
  const std::string reads = fmt::format("{} reads {} (U {})", where, wording::volts(volts, indication.resolution),
                                        wording::two_figures_volts(U));
  const std::string must = wording::must_be(finding.expected);
  switch (finding.outcome) {
    case Outcome::pass:
      finding.sentence = fmt::format("{}: {}, as it must be.", reads, must);
      break;
    case Outcome::fail:
      finding.sentence = fmt::format("{} where it must be {}: {}.", reads, must, name_deviation(finding, volts, profile));
      break;
    case Outcome::undecided:
      finding.sentence = fmt::format(
          "{} where it must be {}: too near the limit for this meter to decide; measure again with a more accurate "
          "meter.",
          reads, must);
      break;
  }
}

void judge_over_range(VoltageFinding& finding, const std::string& where, const Profile& profile) {
  const std::vector<Interval> bands = tolerances_of(finding.expected);
  const auto& beyond = finding.indication.beyond;
  if (beyond && *beyond > bands.back().max) {
    finding.outcome = Outcome::fail;
    finding.sentence = fmt::format("{} reads over-range (more than {}) where it must be {}: {}.", where,
                                   human_value(*beyond, Quantity::voltage_ac), wording::must_be(finding.expected),
                                   name_deviation(finding, *beyond, profile));
    return;
  }
  finding.sentence = fmt::format("{} reads over-range: set the meter to autorange, on a range above the supply, and "
                                 "measure again.",
                                 where);
}

void judge_at(VoltageFinding& finding, const std::string& where, const Profile& profile, const MeterDefinition& meter,
              const JudgeSettings& settings) {
  if (finding.indication.quantity != Quantity::voltage_ac)
    finding.sentence = fmt::format("{} was measured in {}; turn the dial to {} and redo the step.", where,
                                   dial_words(finding.indication.quantity), dial_words(Quantity::voltage_ac));
  else if (finding.indication.state == ReadingState::finite)
    judge_finite(finding, where, profile, meter, settings);
  else if (finding.indication.state == ReadingState::over_range)
    judge_over_range(finding, where, profile);
  else
    finding.sentence = fmt::format("{} gave no value; redo the step.", where);
}

}  // namespace

VoltageFinding judge_voltage(const VoltageExpectation& expected, const Indication& indication, const Profile& profile,
                             const MeterDefinition& meter, const JudgeSettings& settings) {
  VoltageFinding finding;
  finding.expected = expected;
  finding.indication = indication;
  const std::string where = place_words(expected, profile);
  if (can_be_read(expected))
    judge_at(finding, where, profile, meter, settings);
  else
    finding.sentence =
        fmt::format("{} is not checked{}.", where, expected.reason.empty() ? std::string{} : ": " + expected.reason);
  return finding;
}

VoltageFinding judge_supply(const Indication& indication, const std::string& when, const Profile& profile,
                            const MeterDefinition& meter, const JudgeSettings& settings) {
  const Powered& powered = powered_of(profile);
  VoltageFinding finding;
  finding.expected.pair = powered.supply;
  finding.expected.state = VoltageState::live;
  finding.expected.v = powered.supply_v;
  finding.expected.bands = {powered.supply_v};
  finding.expected.nominal_v = powered.voltage_v;
  finding.indication = indication;
  judge_at(finding, fmt::format("{} the supply, {},", wording::capitalised(when), powered.supply.text()), profile, meter,
           settings);
  return finding;
}

std::vector<std::string> undecidable_voltages(const Profile& profile, const MeterDefinition& meter, double k) {
  const Powered& powered = powered_of(profile);
  const Quantity quantity = Quantity::voltage_ac;
  std::vector<std::string> sentences;
  if (meter.finest(quantity) == nullptr) {
    sentences.push_back(
        "The meter definition gives no accuracy for AC volts: U will be the display's resolution alone. Add the accuracy "
        "from the meter's manual to its definition.");
    return sentences;
  }
  const auto U_at = [&](double volts) { return uncertainty_of(meter, quantity, volts, 0.0, nullptr, k).U; };
  if (const auto top = meter.top_of_range(quantity); top && *top < powered.supply_v.max)
    sentences.push_back(fmt::format(
        "This meter's AC volts end at {}, below the supply ({} at most). Do not connect it: use a meter that reaches "
        "further.",
        human_value(*top, quantity), human_value(powered.supply_v.max, quantity)));
  else if (const double U = U_at(powered.voltage_v); U > 0.5 * (powered.supply_v.max - powered.supply_v.min))
    sentences.push_back(fmt::format(
        "This meter cannot decide whether a voltage is in its range ({} to {}): U is {} there. Use a more accurate meter.",
        human_value(powered.supply_v.min, quantity), human_value(powered.supply_v.max, quantity),
        wording::two_figures_volts(U)));
  if (const double U = U_at(powered.dead_max_v); U > powered.dead_max_v)
    sentences.push_back(
        fmt::format("This meter cannot decide whether a pair is dead (at most {}): U is {} there. Use a meter with a finer "
                    "range.",
                    human_value(powered.dead_max_v, quantity), wording::two_figures_volts(U)));
  return sentences;
}

}  // namespace switchwright
