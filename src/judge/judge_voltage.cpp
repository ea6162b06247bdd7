// One settled voltage against its bands.
#include "switchwright/judge/judge_voltage.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>

#include "judge/meter_doubt.hpp"
#include "judge/volt_wording.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/judge/conformance.hpp"
#include "switchwright/judge/wording.hpp"
#include "switchwright/profile/position_words.hpp"

namespace switchwright {

namespace {

constexpr double infinity = std::numeric_limits<double>::infinity();

const Powered& powered_of(const Profile& profile) {
  if (!profile.powered)
    throw Error(ErrorKind::usage, "this profile says nothing about power", profile.path.string(),
                "add a [powered] part with the supply and the load");
  return *profile.powered;
}

/// What a floating point may show: below the first it surely passes, above the second it surely fails, and between them
/// the meter's input resistance would have to be known.
Interval stray_limits(const VoltageExpectation& expected, const MeterDefinition& meter, const VoltageContext& context,
                      const Powered& powered) {
  if (!(expected.join_v > 0.0)) return {*expected.stray_max_v, *expected.stray_max_v};
  const Interval input =
      meter.voltage_input_ohm ? Interval{*meter.voltage_input_ohm, *meter.voltage_input_ohm} : usual_input_ohm;
  const double join_v = expected.join_v * context.supply_v.value_or(powered.voltage_v) / powered.voltage_v;
  return {std::max(powered.dead_max_v, leak_shows_v(join_v, expected.leak_ohm, input.min)),
          std::max(powered.dead_max_v, leak_shows_v(join_v, expected.leak_ohm, input.max))};
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

Outcome decide_volts(const VoltageExpectation& expected, double volts, double U, const MeterDefinition& meter,
                     const JudgeSettings& settings, const VoltageContext& context, const Powered& powered) {
  std::vector<Interval> bands = tolerances_of(expected);
  if (!expected.stray_max_v) return decide_in_bands(volts, U, bands, settings.rule);
  const Interval stray = stray_limits(expected, meter, context, powered);
  bands.front().max = stray.min;
  const Outcome outcome = decide_in_bands(volts, U, bands, settings.rule);
  if (outcome != Outcome::fail) return outcome;
  return decide(volts, U, {-infinity, stray.max}, settings.rule) == Outcome::fail ? outcome : Outcome::undecided;
}

/// The reading says that nothing is there, and nothing more.
bool without_volts(const VoltageExpectation& expected, double volts) {
  const std::vector<Interval> bands = tolerances_of(expected);
  return !bands.empty() && !bands.front().bounded_below() && volts <= bands.front().max;
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
    return expected.state == VoltageState::dead ? "the supply stands across the two"
                                                : "something joins it to the supply";
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
  return taken_at(profile, expected.position) + ", " + expected.pair.text();
}

/// Why a reading decides nothing, whatever it reads; empty when it may.
std::string undecided_because(const VoltageFinding& finding, const VoltageContext& context) {
  if (finding.expected.state == VoltageState::unsolved) return finding.expected.reason;
  if (finding.outcome == Outcome::pass && context.witness == Witness::missing &&
      without_volts(finding.expected, *finding.volts))
    return "no voltage is also what a probe off the metal gives, or a supply that is off; no other position showed volts "
           "here, and nobody stated that both probes touch and the supply is on";
  return {};
}

void judge_finite(VoltageFinding& finding, const std::string& where, const Profile& profile,
                  const MeterDefinition& meter, const JudgeSettings& settings, const VoltageContext& context) {
  const Indication& indication = finding.indication;
  const double volts = std::abs(indication.value);
  const double U = uncertainty_of(meter, indication, nullptr, settings.k).U;
  finding.volts = volts;
  finding.U = U;
  const std::string reads = fmt::format("{} reads {} (U {})", where, wording::volts(volts, indication.resolution),
                                        wording::two_figures_volts(U));
  if (finding.expected.state != VoltageState::unsolved)
    finding.outcome = decide_volts(finding.expected, volts, U, meter, settings, context, powered_of(profile));
  if (const std::string why = undecided_because(finding, context); !why.empty()) {
    finding.outcome = Outcome::undecided;
    finding.sentence = fmt::format("{}: {}.", reads, why);
    return;
  }
  const std::string must = wording::must_be(finding.expected);
  switch (finding.outcome) {
    case Outcome::pass: finding.sentence = fmt::format("{}: {}, as it must be.", reads, must); break;
    case Outcome::fail:
      finding.sentence =
          fmt::format("{} where it must be {}: {}.", reads, must, name_deviation(finding, volts, profile));
      break;
    case Outcome::undecided:
      finding.sentence = fmt::format(
          "{} where it must be {}: {}.", reads, must,
          finding.expected.stray_max_v && !meter.voltage_input_ohm
              ? "a leak that is allowed may show as much on a meter of high impedance; state the meter's voltage_input_ohm in "
                "its definition, or measure with a meter of low input resistance"
              : "too near the limit for this meter to decide; measure again with a more accurate meter");
      break;
  }
}

void judge_over_range(VoltageFinding& finding, const std::string& where, const Profile& profile) {
  const std::vector<Interval> bands = tolerances_of(finding.expected);
  const auto& beyond = finding.indication.beyond;
  if (beyond && !bands.empty() && *beyond > bands.back().max) {
    finding.outcome = Outcome::fail;
    finding.sentence = fmt::format("{} reads over-range (more than {}) where it must be {}: {}.", where,
                                   human_value(*beyond, Quantity::voltage_ac), wording::must_be(finding.expected),
                                   name_deviation(finding, *beyond, profile));
    return;
  }
  finding.sentence = fmt::format(
      "{} reads over-range: set the meter to autorange, on a range above the supply, and "
      "measure again.",
      where);
}

void judge_at(VoltageFinding& finding, const std::string& where, const Profile& profile, const MeterDefinition& meter,
              const JudgeSettings& settings, const VoltageContext& context) {
  if (finding.indication.quantity != Quantity::voltage_ac)
    finding.sentence = fmt::format("{} was measured in {}; turn the dial to {} and redo the step.", where,
                                   dial_words(finding.indication.quantity), dial_words(Quantity::voltage_ac));
  else if (finding.indication.state == ReadingState::finite)
    judge_finite(finding, where, profile, meter, settings, context);
  else if (finding.indication.state == ReadingState::over_range)
    judge_over_range(finding, where, profile);
  else
    finding.sentence = fmt::format("{} gave no value; redo the step.", where);
  withhold_what_is_unproven(finding, meter);
}

}  // namespace

VoltageFinding judge_voltage(const VoltageExpectation& expected, const Indication& indication, const Profile& profile,
                             const MeterDefinition& meter, const JudgeSettings& settings,
                             const VoltageContext& context) {
  VoltageFinding finding;
  finding.expected = expected;
  finding.indication = indication;
  const std::string where = place_words(expected, profile);
  if (can_be_read(expected))
    judge_at(finding, where, profile, meter, settings, context);
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
  judge_at(finding, fmt::format("{} the supply, {},", wording::capitalised(when), powered.supply.text()), profile,
           meter, settings, {});
  return finding;
}

Witness witness_of(const MeasuredVoltage& reading, const std::vector<MeasuredVoltage>& all,
                   const std::vector<VoltageExpectation>& expected, const Profile& profile) {
  const double whole_v = 0.9 * powered_of(profile).supply_v.min;
  const auto shows_the_supply = [&](const MeasuredVoltage& other) {
    if (other.indication.state != ReadingState::finite || other.indication.quantity != Quantity::voltage_ac)
      return false;
    const double volts = std::abs(other.indication.value);
    if (volts >= whole_v) return true;
    for (const VoltageExpectation& e : expected)
      if (e.position == other.position && e.pair == other.pair)
        return std::any_of(e.bands.begin(), e.bands.end(), [&](const Interval& band) {
          return band.min > powered_of(profile).dead_max_v && volts >= band.min && volts <= band.max;
        });
    return false;
  };
  for (const MeasuredVoltage& other : all)
    if (other.placement == reading.placement && other.pair == reading.pair && other.position != reading.position &&
        shows_the_supply(other))
      return Witness::witnessed;
  return reading.contact_stated ? Witness::stated : Witness::missing;
}

void excuse_missing_volts(std::vector<VoltageFinding>& findings) {
  const auto too_much = [](const VoltageFinding& f) {
    return f.outcome == Outcome::fail && f.kind != DeviationKind::dead && f.kind != DeviationKind::low_voltage;
  };
  for (VoltageFinding& finding : findings) {
    if (finding.kind != DeviationKind::dead && finding.kind != DeviationKind::low_voltage) continue;
    if (std::any_of(findings.begin(), findings.end(), [&](const VoltageFinding& other) {
          return other.expected.position == finding.expected.position && too_much(other);
        }))
      continue;
    finding.outcome = Outcome::undecided;
    finding.kind.reset();
    finding.severity.reset();
    finding.sentence +=
        " Nowhere else at this position are the missing volts seen so far, so the supply may have been missing: look at it.";
  }
}

BondFinding judge_bond(const std::string& metal, const Indication& indication, const Profile& profile,
                       const MeterDefinition& meter, const JudgeSettings& settings) {
  const Powered& powered = powered_of(profile);
  const std::string where = fmt::format("The bond of {} to {}", metal, powered.earth_point);
  const std::string limit = human_ohm(powered.bond_max_ohm);
  if (indication.quantity != Quantity::resistance)
    return {Outcome::undecided, fmt::format("{} was not measured in ohms; turn the dial and redo the step.", where)};
  if (indication.state != ReadingState::finite)
    return {Outcome::fail,
            fmt::format("{} reads open where at most {} is wanted: the metal is not earthed.", where, limit)};
  const double U = uncertainty_of(meter, indication, nullptr, settings.k).U;
  const std::string reads =
      fmt::format("{} reads {}", where, human_value(indication.value, indication.quantity, indication.resolution));
  if (meter.accuracy_for(indication.quantity, indication.value, indication.resolution) == nullptr)
    return {Outcome::undecided, reads + ": the meter's definition gives no accuracy for ohms, so U is not known."};
  if (indication.value < -U)
    return {Outcome::undecided, reads + ": less than nothing is no bond; look for a voltage, or a wrong zero."};
  switch (decide(indication.value, U, {-infinity, powered.bond_max_ohm}, settings.rule)) {
    case Outcome::pass: return {Outcome::pass, fmt::format("{}, with the leads; at most {} is wanted.", reads, limit)};
    case Outcome::fail:
      return {Outcome::fail, fmt::format("{} where at most {} is wanted: the metal is not earthed.", reads, limit)};
    case Outcome::undecided: break;
  }
  return {Outcome::undecided,
          fmt::format("{}, too near the {} that is wanted for this meter to decide.", reads, limit)};
}

std::vector<std::string> undecidable_voltages(const Profile& profile, const MeterDefinition& meter, double k) {
  const Powered& powered = powered_of(profile);
  const Quantity quantity = Quantity::voltage_ac;
  std::vector<std::string> sentences;
  const auto expected = voltage_expectations(profile);
  if (const auto n = std::count_if(expected.begin(), expected.end(),
                                   [](const VoltageExpectation& e) { return e.state == VoltageState::unsolved; });
      n > 0)
    sentences.push_back(fmt::format(
        "{} cannot be decided under power: the circuit has more contacts, elements and loads than are solved here.",
        wording::count_of(static_cast<std::size_t>(n), "voltage")));
  if (meter.finest(quantity) == nullptr) {
    sentences.push_back(
        "The meter definition gives no accuracy for AC volts: no voltage can be decided with it. Add the accuracy from the "
        "meter's manual to its definition.");
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
    sentences.push_back(fmt::format(
        "This meter cannot decide whether a pair is dead (at most {}): U is {} there. Use a meter with a finer "
        "range.",
        human_value(powered.dead_max_v, quantity), wording::two_figures_volts(U)));
  return sentences;
}

}  // namespace switchwright
