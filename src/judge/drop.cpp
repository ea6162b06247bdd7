#include "switchwright/judge/drop.hpp"

#include <fmt/format.h>

#include <cmath>

#include "switchwright/core/amount.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/judge/holm.hpp"
#include "switchwright/judge/uncertainty.hpp"

namespace switchwright {

namespace {

constexpr double k = 2.0;
/// When nothing is said of the current: a bench supply's own display, a common figure without source.
constexpr double unstated_share = 0.01;

double volts_of(const Indication& indication) {
  if (indication.state != ReadingState::finite || !is_voltage(indication.quantity))
    throw Error(ErrorKind::usage, "the drop is not a voltage in the meter's range", {},
                "set the meter to DC volts or millivolts and check that the current flows");
  return indication.value;
}

std::string milliohm(double ohm) { return fmt::format("{:.3g} mohm", ohm * 1e3); }

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
    throw Error(ErrorKind::usage, "\"" + terminal_safe(text) + "\" is not a known current: its uncertainty is as large as itself",
                option, "write it like 1A@0.01 or 1A@1% (amperes, and their expanded uncertainty)");
  return {amps, U};
}

Drop judge_drop(const std::string& contact, const Indication& indication, const std::optional<Indication>& reversed,
                const KnownCurrent& current, double limit_ohm, const MeterDefinition& meter, DecisionRule rule) {
  if (!(current.amps > 0.0)) throw Error(ErrorKind::usage, "the current must be above 0 A", "--current", "write it like 1A");
  const double forth = volts_of(indication);
  double u_drop = uncertainty_of(meter, Quantity::voltage_dc, forth, indication.resolution).u;
  Drop drop;
  drop.drop_v = std::abs(forth);
  if (reversed) {
    const double back = volts_of(*reversed);
    drop.drop_v = std::abs(forth - back) / 2.0;
    drop.thermal_v = (forth + back) / 2.0;
    // The two readings share the meter's error, so the mean of the two uncertainties stands for both.
    u_drop = (u_drop + uncertainty_of(meter, Quantity::voltage_dc, back, reversed->resolution).u) / 2.0;
  }
  drop.U_drop_v = k * u_drop;
  drop.ohm = drop.drop_v / current.amps;
  // JCGM 100, 5.1: R = U / I, the two not correlated.
  drop.u_ohm = std::hypot(u_drop / current.amps, drop.ohm * current.U_amps / k / current.amps);
  drop.U_ohm = k * drop.u_ohm;
  drop.spot_c = spot_temperature_c(drop.drop_v);
  drop.outcome = decide(drop.ohm, drop.U_ohm, {-1e300, limit_ohm}, rule);
  drop.sentence = fmt::format(
      "{}: {:.3g} mV at {:.3g} A is {} +/- {}; {} (a sound contact has at most {}).", contact, drop.drop_v * 1e3,
      current.amps, milliohm(drop.ohm), milliohm(drop.U_ohm),
      drop.outcome == Outcome::pass ? "sound" : drop.outcome == Outcome::fail ? "not sound" : "not decidable with this current and meter",
      milliohm(limit_ohm));
  if (drop.outcome == Outcome::undecided)
    drop.sentence += fmt::format(" More current, up to the part's rating, makes it clearer.");
  if (drop.thermal_v && std::abs(*drop.thermal_v) > 0.1 * drop.drop_v)
    drop.sentence += fmt::format(" A thermal voltage of {:.2g} mV was taken out.", *drop.thermal_v * 1e3);
  return drop;
}

std::optional<double> least_current_a(const MeterDefinition& meter, double limit_ohm) {
  const auto decides = [&](double amps) {
    const double volts = 0.5 * limit_ohm * amps;
    return volts + uncertainty_of(meter, Quantity::voltage_dc, volts, 0.0).U <= limit_ohm * amps;
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
