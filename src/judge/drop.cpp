#include "switchwright/judge/drop.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "switchwright/core/amount.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/judge/holm.hpp"
#include "switchwright/judge/uncertainty.hpp"

namespace switchwright {

namespace {

constexpr double coverage = 2.0;  // k of every U here
/// When nothing is said of the current: a bench supply's own display, a common figure without source.
constexpr double unstated_share = 0.01;

/// Two metals in contact give some 10 microvolt per kelvin (thermocouple tables, from memory: copper to constantan 40),
/// and a contact that has carried its current is some ten kelvin warmer at one end.
constexpr double most_thermal_v = 2e-3;
/// By so much it changes while a supply is switched; common practice, no source.
constexpr double thermal_drift_v = 2e-5;
/// No contact with its tabs and springs has less; common practice, no source.
constexpr double least_contact_ohm = 5e-5;
const double sqrt_12 = std::sqrt(12.0);
/// A display that shows more than this share of the current while one clip hangs free does not show what flows, whatever U
/// is stated (common practice, no source); nor does one that is off by more than the stated U there.
constexpr double most_shown_free = 0.05;

double volts_of(const Indication& indication) {
  if (indication.state != ReadingState::finite || !is_voltage(indication.quantity))
    throw Error(ErrorKind::usage, "the drop is not a voltage in the meter's range", {},
                "set the meter to DC volts or millivolts and check that the current flows");
  return indication.value;
}

double u_of(const Indication& indication, const MeterDefinition& meter) { return uncertainty_of(meter, indication).u; }

std::string millivolt(double volt) { return fmt::format("{:.3g} mV", volt * 1e3); }

/// What the readings say of the voltage that the current makes.
struct Change {
  double volt = 0.0;  ///< with its sign
  double u = 0.0;
  double zero = 0.0;
  double u_zero = 0.0;
  std::optional<double> drift;
  std::optional<double> thermal;
};

Change change_of(const DropReadings& readings, const MeterDefinition& meter) {
  Change change;
  const double on = volts_of(readings.on);
  double u_on = u_of(readings.on, meter);
  change.zero = volts_of(readings.zero);
  change.u_zero = u_of(readings.zero, meter);
  if (readings.zero_after) {
    const double after = volts_of(*readings.zero_after);
    change.drift = std::abs(after - change.zero);
    change.zero = (change.zero + after) / 2.0;
    // The same meter at nearly the same value: its error does not average out.
    change.u_zero = (change.u_zero + u_of(*readings.zero_after, meter)) / 2.0;
  }
  if (readings.reversed) {
    const double back = volts_of(*readings.reversed);
    change.volt = (on - back) / 2.0;
    change.thermal = (on + back) / 2.0;
    change.drift = std::abs(*change.thermal - change.zero);
    change.u = (u_on + u_of(*readings.reversed, meter)) / 2.0;
  } else {
    change.volt = on - change.zero;
    change.u = std::hypot(u_on, change.u_zero);
  }
  // Where between the two zeros it stood meanwhile is not known: a rectangle (JCGM 100, 4.3.7).
  change.u = std::hypot(change.u, change.drift.value_or(0.0) / sqrt_12);
  return change;
}

DropState state_of(const Change& change, const DropReadings& readings, const KnownCurrent& current,
                   const DropLimits& limits, const MeterDefinition& meter) {
  const double volt = std::abs(change.volt);
  const double share = current.U_amps / current.amps;
  if (!is_zero(readings.zero, meter) || (readings.zero_after && !is_zero(*readings.zero_after, meter)))
    return DropState::not_zero;
  if (readings.reversed &&
      *change.drift > coverage * std::hypot(change.u_zero, change.u) + share * volt + thermal_drift_v)
    return DropState::one_way;
  if (volt <= coverage * change.u || volt <= change.drift.value_or(0.0) ||
      (volt + coverage * change.u) / current.amps < least_contact_ohm)
    return DropState::no_current;
  if (volt - coverage * change.u > limits.closed_ohm * current.amps) return DropState::open;
  if (!readings.shown_a || !readings.shown_free_a) return DropState::current_not_read;
  if (!follows_current(*readings.shown_free_a, current)) return DropState::shows_setting;
  if (std::abs(*readings.shown_a - current.amps) > current.U_amps * (1.0 + 1e-6)) return DropState::other_current;
  return DropState::seen;
}

std::string milliohm(double ohm) { return fmt::format("{:.3g} mohm", ohm * 1e3); }

std::string sentence_of(const Drop& drop, const DropReadings& readings, const KnownCurrent& current,
                        const DropLimits& limits) {
  switch (drop.state) {
    case DropState::no_current:
      return fmt::format(
          "nothing changed when the current was switched on ({} more or less, +/- {}): no current flowed, or "
          "too little for this meter to see. Look at the supply and its clips; more current, up to the "
          "contact's rating, makes it clearer.",
          millivolt(drop.drop_v), millivolt(drop.U_drop_v));
    case DropState::not_zero:
      return fmt::format(
          "{} stood there with the current off: it was not off, or something else is connected. Switch the "
          "supply off for the zero and measure again.",
          readings.zero.state == ReadingState::finite ? millivolt(readings.zero.value) : std::string{"over-range"});
    case DropState::one_way:
      return fmt::format(
          "the two ways do not differ by the sign alone (zero {}, then {} and {}): the current was not "
          "reversed, or it was not the same both ways. Exchange the clips of the supply, not the probes.",
          millivolt(drop.zero_v), millivolt(readings.on.value), millivolt(readings.reversed->value));
    case DropState::other_current:
      return fmt::format(
          "{} at a current that the supply shows as {:.3g} A and not as {:.3g} A +/- {:.2g} A: nothing is "
          "decided. Set the supply right and measure again.",
          millivolt(drop.drop_v), *readings.shown_a, current.amps, current.U_amps);
    case DropState::current_not_read:
      return fmt::format(
          "{} stand there with the current on, but nobody has read {}: a current that is only stated decides "
          "nothing. Read the supply's display, or an ammeter in series.",
          millivolt(drop.drop_v), readings.shown_a ? "what the display shows with one clip free" : "what flows");
    case DropState::shows_setting:
      return fmt::format(
          "{}, but the display shows {:.3g} A also with one clip hanging free, where none can flow: it shows what "
          "is set, or is off by that. Put an ammeter in series and read that.",
          millivolt(drop.drop_v), *readings.shown_free_a);
    case DropState::open:
      return fmt::format(
          "open, or as good as open: {:.3g} V stand across it with the current on, more than a closed contact can have ({:g} ohm "
          "at most, {:.3g} V at {:.3g} A).",
          drop.drop_v, limits.closed_ohm, limits.closed_ohm * current.amps, current.amps);
    case DropState::beyond:
      return "the drop is beyond the meter's range; either no current flows or the contact is open.";
    case DropState::seen: break;
  }
  std::string sentence = fmt::format("{} at {:.3g} A is {} +/- {}; {} (a sound contact has at most {}).",
                                     millivolt(drop.drop_v), current.amps, milliohm(drop.ohm), milliohm(drop.U_ohm),
                                     drop.outcome == Outcome::pass   ? "sound"
                                     : drop.outcome == Outcome::fail ? "not sound"
                                                                     : "not decidable with this current and meter",
                                     milliohm(limits.sound_ohm));
  if (drop.outcome == Outcome::undecided) sentence += " More current, up to the contact's rating, makes it clearer.";
  const double taken_out = drop.thermal_v.value_or(drop.zero_v);
  if (std::abs(taken_out) > 0.1 * drop.drop_v)
    sentence += fmt::format(" {:.2g} mV that no current makes were taken out (thermal voltage, the meter's zero).",
                            taken_out * 1e3);
  return sentence;
}

}  // namespace

KnownCurrent parse_current(const std::string& text) {
  constexpr const char* option = "--current";
  const auto at = text.find('@');
  const double amps = read_amount(text.substr(0, at), Amount::amperes, {0.0, 1e5, true}, option);
  if (at == std::string::npos) return {amps, amps * unstated_share};
  const std::string stated = text.substr(at + 1);
  const double U = unit_kind_of(stated) == Amount::percent
                       ? amps * read_amount(stated, Amount::percent, {0.0, 100.0, true}, option) / 100.0
                       : read_amount(stated, Amount::amperes, {0.0, 1e5, true}, option);
  if (U >= amps)
    throw Error(ErrorKind::usage,
                "\"" + terminal_safe(text) + "\" is not a known current: its uncertainty is as large as itself", option,
                "write it like 1A@0.01 or 1A@1% (amperes, and their expanded uncertainty)");
  return {amps, U};
}

std::string to_string(DropState state) {
  switch (state) {
    case DropState::seen: return "seen";
    case DropState::no_current: return "no-current";
    case DropState::not_zero: return "not-zero";
    case DropState::one_way: return "one-way";
    case DropState::other_current: return "other-current";
    case DropState::current_not_read: return "current-not-read";
    case DropState::shows_setting: return "shows-setting";
    case DropState::open: return "open";
    case DropState::beyond: return "beyond";
  }
  return "";
}

bool follows_current(double shown_free_a, const KnownCurrent& current) {
  return std::abs(shown_free_a) <= std::min(current.U_amps, most_shown_free * current.amps) * (1.0 + 1e-6);
}

bool is_zero(const Indication& zero, const MeterDefinition& meter) {
  return zero.state == ReadingState::finite && std::abs(zero.value) <= most_thermal_v + coverage * u_of(zero, meter);
}

Drop judge_drop(const std::string& contact, const DropReadings& readings, const KnownCurrent& current,
                const DropLimits& limits, const MeterDefinition& meter, DecisionRule rule) {
  if (!(current.amps > 0.0))
    throw Error(ErrorKind::usage, "the current must be above 0 A", "--current", "write it like 1A");
  Drop drop;
  const auto beyond = [](const std::optional<Indication>& i) { return i && i->state != ReadingState::finite; };
  if (beyond(readings.zero) || beyond(readings.zero_after)) {
    drop.state = DropState::not_zero;
  } else if (beyond(readings.on) || beyond(readings.reversed)) {
    // The full scale of a range that was fixed says how much it is at least.
    const Indication& over = beyond(readings.on) ? readings.on : *readings.reversed;
    const double at_least = over.beyond.value_or(0.0);
    drop.drop_v = at_least;
    drop.ohm = at_least / current.amps;
    drop.state = is_zero(readings.zero, meter) && drop.ohm > limits.closed_ohm ? DropState::open : DropState::beyond;
  } else {
    const Change change = change_of(readings, meter);
    drop.drop_v = std::abs(change.volt);
    drop.U_drop_v = coverage * change.u;
    drop.zero_v = change.zero;
    drop.drift_v = change.drift;
    drop.thermal_v = change.thermal;
    drop.ohm = drop.drop_v / current.amps;
    // JCGM 100, 5.1: R = U / I, the two not correlated.
    drop.u_ohm = std::hypot(change.u / current.amps, drop.ohm * current.U_amps / coverage / current.amps);
    drop.U_ohm = coverage * drop.u_ohm;
    drop.state = state_of(change, readings, current, limits, meter);
  }
  if (drop.state == DropState::seen) {
    drop.spot_c = spot_temperature_c(drop.drop_v);
    drop.outcome = decide(drop.ohm, drop.U_ohm, {-1e300, limits.sound_ohm}, rule);
  } else if (drop.state == DropState::open) {
    drop.outcome = Outcome::fail;
  }
  drop.sentence = contact + ": " + sentence_of(drop, readings, current, limits);
  return drop;
}

double least_change_v(const MeterDefinition& meter) {
  return std::sqrt(2.0) * uncertainty_of(meter, Quantity::voltage_dc, 0.0, 0.0).U;
}

std::optional<double> least_current_a(const MeterDefinition& meter, double limit_ohm) {
  const auto decides = [&](double amps) {
    const double volts = 0.5 * limit_ohm * amps;
    const double U = std::hypot(uncertainty_of(meter, Quantity::voltage_dc, volts, 0.0).U,
                                uncertainty_of(meter, Quantity::voltage_dc, 0.0, 0.0).U);
    return volts + U <= limit_ohm * amps && volts > U;
  };
  if (!(limit_ohm > 0.0) || !meter.finest(Quantity::voltage_dc)) return std::nullopt;
  double enough = 1e-6;
  while (!decides(enough)) {
    if (enough > 1e4) return std::nullopt;
    enough *= 1.05;
  }
  const double step = std::pow(10.0, std::floor(std::log10(enough)) - 1.0);
  return std::ceil(enough / step) * step;
}

}  // namespace switchwright
