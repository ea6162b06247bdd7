#include "judge/timing_figures.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>

#include "switchwright/judge/conformance.hpp"
#include "switchwright/judge/outcome.hpp"

namespace switchwright::timing {

namespace {

/// Both with the decimals of two significant figures of U (JCGM 100 7.2.6).
std::string number_with_U(const Value& value, const std::string& unit) {
  const double factor = unit.empty() ? 100.0 : 1.0;
  const std::string shown = unit.empty() ? "%" : unit;
  if (!(value.U > 0.0) || !std::isfinite(value.U)) return number(value.value, unit);
  const int decimals = std::clamp(1 - static_cast<int>(std::floor(std::log10(value.U * factor))), 0, 9);
  return fmt::format("{:.{}f} {} +/- {:.{}f} {}", value.value * factor, decimals, shown, value.U * factor, decimals,
                     shown);
}

/// The shortest and the longest cycle: outside by more than its own U fails, whatever the rule; a guarded rule also
/// wants it inside by that much.
Outcome every_cycle(const Judged& judged, bool guarded) {
  if (!judged.figure->min || !judged.figure->max) return Outcome::undecided;
  Outcome outcome = Outcome::pass;
  for (const double value : {*judged.figure->min, *judged.figure->max}) {
    const Outcome one = decide(value, judged.U_of_one, judged.limits_here, DecisionRule::guarded);
    const bool left_open = one == Outcome::undecided && !guarded;
    outcome = worse(outcome, left_open && judged.limits_here.contains(value) ? Outcome::pass : one);
  }
  return outcome;
}

/// Where the next cycle will lie, with the probability of U (prediction interval of a normal distribution).
std::optional<Interval> next_cycle(const Judged& judged) {
  const Figure& figure = *judged.figure;
  if (!figure.sd || !figure.mean || judged.cycles < 2) return std::nullopt;
  const auto n = static_cast<double>(judged.cycles);
  const double reach = t_factor(coverage_of_U, n - 1.0) * *figure.sd * std::sqrt(1.0 + 1.0 / n);
  return Interval{*figure.mean - reach, *figure.mean + reach};
}

}  // namespace

std::string number(double value, const std::string& unit) {
  return unit.empty() ? fmt::format("{:.4g} %", 100.0 * value) : fmt::format("{:.4g} {}", value, unit);
}

std::string words(const Interval& limits, const std::string& unit) {
  if (!limits.bounded_below()) return "at most " + number(limits.max, unit);
  if (!limits.bounded_above()) return "at least " + number(limits.min, unit);
  return number(limits.min, unit) + " to " + number(limits.max, unit);
}

AtRated::AtRated(const TimingConditions& c) {
  const auto square = [&](const std::optional<double>& measured, const std::optional<double>& rated) {
    if (!measured || !rated || *measured <= 0.0 || *rated <= 0.0) return;
    ratio_ = (*measured / *rated) * (*measured / *rated);
    relative_U_ = 2.0 * c.measured_relative_U;
  };
  if (c.heater == HeaterKind::shunt) square(c.measured_voltage_v, c.rated_voltage_v);
  if (c.heater == HeaterKind::series) square(c.measured_current_a, c.rated_current_a);
}

Value AtRated::duty(const Value& measured) const {
  const double ratio = ratio_.value_or(1.0);
  return {measured.value * ratio, std::hypot(measured.U * ratio, measured.value * ratio * relative_U_)};
}

double AtRated::on_here_s(double on_s, double off_s) const {
  if (!ratio_ || !std::isfinite(on_s)) return on_s;
  const double duty = on_s / (on_s + off_s) / *ratio_;
  return duty < 1.0 ? off_s * duty / (1.0 - duty) : std::numeric_limits<double>::infinity();
}

TimingFinding finding_for(const Judged& judged, bool guarded) {
  const std::string unit = judged.unit;
  TimingFinding finding;
  finding.quantity = judged.quantity;
  finding.unit = unit;
  finding.value = judged.mean.value;
  finding.U = judged.mean.U;
  finding.limits = judged.limits;
  finding.normalized = judged.at_rated && judged.mean.value != judged.measured;
  if (finding.normalized) finding.measured = judged.measured;
  finding.least = judged.figure->min;
  finding.most = judged.figure->max;
  const DecisionRule rule = guarded ? DecisionRule::guarded : DecisionRule::simple;
  finding.outcome = decide(judged.mean.value, judged.mean.U, judged.limits, rule);
  std::string name = judged.quantity;
  name.front() = static_cast<char>(name.front() - 'a' + 'A');
  const std::string rated =
      finding.normalized ? " at rated conditions (measured " + number(judged.measured, unit) + ")" : "";
  const char* verb = finding.outcome == Outcome::pass   ? "lies inside"
                     : finding.outcome == Outcome::fail ? "lies outside"
                                                        : "is too near to the limit to decide:";
  finding.sentence =
      fmt::format("{} {}{} {} {}.", name, number_with_U(judged.mean, unit), rated, verb, words(judged.limits, unit));
  if (judged.cycles < 2) return finding;

  const Outcome cycles = every_cycle(judged, guarded);
  const bool moved = judged.limits_here.min != judged.limits.min || judged.limits_here.max != judged.limits.max;
  const std::string must = moved ? words(judged.limits_here, unit) + " as measured" : words(judged.limits, unit);
  if (cycles == Outcome::fail)
    finding.sentence += fmt::format(" Single cycles reach from {} to {}, outside {}.", number(*finding.least, unit),
                                    number(*finding.most, unit), must);
  else if (cycles == Outcome::undecided && finding.outcome != Outcome::fail)
    finding.sentence += fmt::format(" Single cycles reach from {} to {}, too near to the ends of {} to decide.",
                                    number(*finding.least, unit), number(*finding.most, unit), must);
  Outcome spread = Outcome::pass;
  if (const auto next = next_cycle(judged);
      next && (next->min < judged.limits_here.min || next->max > judged.limits_here.max)) {
    spread = Outcome::undecided;
    if (cycles == Outcome::pass && finding.outcome == Outcome::pass)
      finding.sentence +=
          fmt::format(" It varies so much from cycle to cycle (sd {}) that the next may lie outside {}.",
                      number(*judged.figure->sd, unit), must);
  }
  finding.outcome = worse(finding.outcome, worse(cycles, spread));
  return finding;
}

}  // namespace switchwright::timing
