#include "switchwright/judge/timing.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "switchwright/core/text.hpp"

namespace switchwright {

namespace {

constexpr double erratic_spread = 0.25;  // sd of the period as a share of its mean
constexpr double erratic_blips = 0.5;    // blips per cycle
constexpr std::array common_versions_v{100.0, 120.0, 208.0,
                                       220.0, 230.0, 240.0};  // common practice, no source

/// A figure with its uncertainty, carried to rated conditions or not.
struct Value {
  double value;
  double U;
};

/// Duty goes as a fraction in figures and as percent in words.
std::string number(double value, const std::string& unit) {
  return unit.empty() ? fmt::format("{:.4g} %", 100.0 * value) : fmt::format("{:.4g} {}", value, unit);
}

/// Both with the decimals of two significant figures of U (JCGM 100 7.2.6).
std::string number_with_U(double value, double U, const std::string& unit) {
  const double factor = unit.empty() ? 100.0 : 1.0;
  const std::string shown = unit.empty() ? "%" : unit;
  if (!(U > 0.0) || !std::isfinite(U)) return number(value, unit);
  const int decimals = std::clamp(1 - static_cast<int>(std::floor(std::log10(U * factor))), 0, 9);
  return fmt::format("{:.{}f} {} +/- {:.{}f} {}", value * factor, decimals, shown, U * factor, decimals,
                     shown);
}

std::string words(const Interval& limits, const std::string& unit) {
  if (!limits.bounded_below()) return "at most " + number(limits.max, unit);
  if (!limits.bounded_above()) return "at least " + number(limits.min, unit);
  return number(limits.min, unit) + " to " + number(limits.max, unit);
}

TimingOutcome decide(const Value& value, const Interval& limits, bool guarded) {
  const double guard = guarded ? value.U : 0.0;
  if (value.value > limits.max + guard || value.value < limits.min - guard) return TimingOutcome::fail;
  if (value.value <= limits.max - guard && value.value >= limits.min + guard) return TimingOutcome::pass;
  return TimingOutcome::undecided;
}

TimingFinding finding_for(const std::string& quantity, const std::string& unit, const Value& value,
                          double measured, const Interval& limits, bool guarded) {
  TimingFinding finding;
  finding.quantity = quantity;
  finding.unit = unit;
  finding.value = value.value;
  finding.U = value.U;
  finding.limits = limits;
  finding.normalized = value.value != measured;
  if (finding.normalized) finding.measured = measured;
  finding.outcome = decide(value, limits, guarded);
  const std::string rated =
      finding.normalized ? " at rated conditions (measured " + number(measured, unit) + ")" : "";
  const char* verb = finding.outcome == TimingOutcome::pass   ? "lies inside"
                     : finding.outcome == TimingOutcome::fail ? "lies outside"
                                                              : "is too near to the limit to decide:";
  std::string name = quantity;
  name.front() = static_cast<char>(name.front() - 'a' + 'A');
  finding.sentence = fmt::format("{} {}{} {} {}.", name, number_with_U(value.value, value.U, unit), rated,
                                 verb, words(limits, unit));
  return finding;
}

/// The square that carries a duty to rated conditions; nothing when they are not known.
std::optional<double> heat_ratio(const TimingConditions& c) {
  const auto ratio = [](const std::optional<double>& measured,
                        const std::optional<double>& rated) -> std::optional<double> {
    if (!measured || !rated || *measured <= 0.0 || *rated <= 0.0) return std::nullopt;
    return (*measured / *rated) * (*measured / *rated);
  };
  if (c.heater == HeaterKind::shunt) return ratio(c.measured_voltage_v, c.rated_voltage_v);
  if (c.heater == HeaterKind::series) return ratio(c.measured_current_a, c.rated_current_a);
  return std::nullopt;
}

/// A part whose on and off times are limited has a limited period too.
std::optional<Interval> period_limits(const TimingLimits& limits) {
  if (limits.period_s || !limits.on_s || !limits.off_s) return limits.period_s;
  return Interval{limits.on_s->min + limits.off_s->min, limits.on_s->max + limits.off_s->max};
}

std::string cycles_words(std::uint64_t count, const char* kind = "") {
  return fmt::format("{} {}{}", count, kind, count == 1 ? "cycle" : "cycles");
}

bool inside(const std::optional<Interval>& limits, double value) {
  return !limits || limits->contains(value);
}

class TimingJudge {
 public:
  TimingJudge(const CycleSummary& summary, const TimingLimits& limits, const TimingConditions& conditions)
      : summary_(summary), limits_(limits), period_limits_(period_limits(limits)), conditions_(conditions) {
    const bool use_steady = summary.steady_from_cycle && summary.steady.cycles >= 4;
    figures_ = use_steady ? &summary.steady : &summary.all;
    if (use_steady && *summary.steady_from_cycle > 1)
      result_.remarks.push_back(*summary.steady_from_cycle == 2
                                    ? std::string{"The first cycle is warm-up and left out of the judgement."}
                                    : fmt::format("The first {} are warm-up and left out of the judgement.",
                                                  cycles_words(*summary.steady_from_cycle - 1)));
  }

  TimingJudgement run() {
    remark_on_record();
    if (conditions_.cycling_expected) {
      if (summary_.state == ChannelState::cycling) judge_cycling();
      name_standstill();
    } else {
      judge_standing();
    }
    conclude();
    return std::move(result_);
  }

 private:
  void remark_on_record() {
    if (!summary_.trusted)
      for (const std::string& reason : summary_.reasons) result_.remarks.push_back(reason);
    if (conditions_.cycling_expected && summary_.complete_cycles < recommended_cycles)
      result_.remarks.push_back(
          fmt::format("{}; at least {} are recommended (40 switching operations, after CISPR 14-1).",
                      cycles_words(summary_.complete_cycles, "complete "), recommended_cycles));
    if (summary_.incomplete_cycles > 0)
      result_.remarks.push_back(fmt::format("{} could not be counted because of gaps in the record.",
                                            cycles_words(summary_.incomplete_cycles)));
  }

  void fault(TimingFault what, std::string sentence) {
    result_.faults.push_back({what, std::move(sentence)});
  }

  /// It should cycle and does not, or no longer.
  void name_standstill() {
    if (summary_.state == ChannelState::unknown) return;
    const bool never = summary_.state != ChannelState::cycling;
    const bool closed =
        never ? summary_.state == ChannelState::always_on : summary_.high_at_end.value_or(false);
    const double standing_s = never ? summary_.duration_s() : summary_.last_s - summary_.last_change_s;
    const std::string how_long = human_seconds(standing_s);
    const double enough_s = standstill_s();
    if (standing_s < enough_s) {
      if (never)
        result_.remarks.push_back(fmt::format("No switching in {}: too short to tell, record at least {}.",
                                              how_long, human_seconds(enough_s)));
      return;
    }
    if (!closed) {
      if (never)
        fault(TimingFault::never_closes,
              fmt::format("The contact never closed in {}. Check that the supply was present at the switch "
                          "and the knob "
                          "was on; then the contact, or the leg that feeds it, is open.",
                          how_long));
      else
        result_.remarks.push_back(fmt::format(
            "It was off for the last {}: switched off, or the contact no longer closes.", how_long));
      return;
    }
    if (const auto ratio = heat_ratio(conditions_);
        ratio && limits_.duty && limits_.duty->bounded_above() && limits_.duty->max / *ratio >= 1.0) {
      result_.saturated = true;
      result_.remarks.push_back(
          "At this supply the duty would reach 1 even for a good part: a contact that never opens proves "
          "nothing here. "
          "Repeat at rated voltage or at a lower setting.");
      return;
    }
    fault(TimingFault::never_opens,
          fmt::format(
              "The contact {} {}. Either it is welded or the bimetal heater is open or unpowered. To tell: "
              "turn the knob "
              "to OFF; a load that stays live means a welded contact. If it goes dead, disconnect, prove "
              "dead and "
              "measure the heater: open means the heater.",
              summary_.complete_cycles > 0 ? "cycled, then stayed closed for the last" : "never opened in",
              how_long));
  }

  /// Long enough without switching to say so: three of the longest periods allowed or seen, else a quarter of
  /// an hour.
  double standstill_s() const {
    double longest_s = 0.0;
    if (period_limits_ && period_limits_->bounded_above()) longest_s = period_limits_->max;
    if (figures_->period_s.max) longest_s = std::max(longest_s, *figures_->period_s.max);
    return longest_s > 0.0 ? 3.0 * longest_s : 900.0;
  }

  /// It should stand still.
  void judge_standing() {
    const ChannelState expected =
        conditions_.closed_expected ? ChannelState::always_on : ChannelState::always_off;
    if (summary_.state == expected) {
      standing_passes_ = summary_.blips == 0;
      if (summary_.blips > 0)
        result_.remarks.push_back(
            fmt::format("It stayed {}, but for {} short {}: a loose connection, or a contact that chatters.",
                        conditions_.closed_expected ? "live" : "dead", summary_.blips,
                        summary_.blips == 1 ? "excursion" : "excursions"));
    } else if (summary_.state == ChannelState::cycling) {
      fault(conditions_.closed_expected ? TimingFault::erratic : TimingFault::stays_live,
            conditions_.closed_expected ? "The contact opened at a setting where it must stay closed."
                                        : "The load became live at a setting where it must stay dead.");
    } else if (summary_.state == ChannelState::always_on) {
      fault(TimingFault::stays_live,
            "The load is live where it must be dead. Disconnect it: the contact is welded or bridged.");
    } else if (summary_.state == ChannelState::always_off) {
      fault(TimingFault::never_closes, "The load is dead where it must be live.");
    }
  }

  void judge_cycling() {
    if (!figures_->period_s.mean) return;
    result_.operations_per_hour = 2.0 * 3600.0 / *figures_->period_s.mean;
    result_.click_rate_per_min = 60.0 / *figures_->period_s.mean;
    const double duty = *figures_->duty.mean, off_s = *figures_->off_s.mean;
    const Value on{*figures_->on_s.mean, *figures_->on_s.U}, off{off_s, *figures_->off_s.U};
    const Value period{*figures_->period_s.mean, *figures_->period_s.U}, plain_duty{duty, *figures_->duty.U};
    Value on_rated = on, period_rated = period, duty_rated = plain_duty;
    if (const auto ratio = heat_ratio(conditions_); ratio && *ratio != 1.0)
      carry(*ratio, off, duty_rated, on_rated, period_rated);
    else if (!ratio)
      remark_on_conditions();
    else
      result_.duty_at_rated = duty;
    if (!result_.saturated) {
      add("on time", "s", on_rated, on.value, limits_.on_s);
      add("period", "s", period_rated, period.value, limits_.period_s);
    }
    add("off time", "s", off, off.value, limits_.off_s);
    add("duty", "", duty_rated, duty, limits_.duty);
    name_faults(period_rated);
    try_versions(duty, off_s);
  }

  /// Duty and the times that follow from it at rated conditions; U goes along with the slope.
  void carry(double ratio, const Value& off, Value& duty, Value& on, Value& period) {
    const double carried = duty.value * ratio;
    duty = {std::min(carried, 1.0), duty.U * ratio};
    result_.duty_at_rated = duty.value;
    result_.saturated = carried >= 1.0;
    if (result_.saturated) {
      result_.remarks.push_back(
          "At rated conditions the duty would reach 1: the contact would never open, and on time and "
          "period are not judged.");
      return;
    }
    const double left = 1.0 - carried;
    const double period_s = off.value / left;
    const double period_U = std::hypot(off.U / left, off.value * duty.U / (left * left));
    period = {period_s, period_U};
    on = {period_s * carried, std::hypot(off.U * carried / left, off.value * duty.U / (left * left))};
    result_.remarks.push_back(
        fmt::format("Duty, on time and period are carried to rated conditions (heat ratio {:.4f}); the off "
                    "time does not depend on them.",
                    ratio));
  }

  void remark_on_conditions() {
    if (conditions_.heater == HeaterKind::series)
      result_.remarks.push_back(
          "A series heater answers to the load current: state measured and rated current, or test with the "
          "load it is made for. The duty is judged as measured.");
    else if (conditions_.heater == HeaterKind::shunt)
      result_.remarks.push_back(
          "Measured and rated voltage are not both known: the duty is judged as measured.");
  }

  void add(const char* quantity, const char* unit, const Value& value, double measured,
           const std::optional<Interval>& limits) {
    if (limits)
      result_.findings.push_back(finding_for(quantity, unit, value, measured, *limits, conditions_.guarded));
  }

  void name_faults(const Value& period) {
    const auto& spread = figures_->period_s;
    const double cycles = std::max(1.0, static_cast<double>(summary_.complete_cycles));
    if (figures_->cycles >= 4 && spread.sd && *spread.sd > erratic_spread * *spread.mean) {
      fault(TimingFault::erratic,
            fmt::format("The period varies by {:.0f} % from cycle to cycle: pitted contacts, a loose "
                        "connection, or a supply or draught that changes.",
                        100.0 * *spread.sd / *spread.mean));
    } else if (static_cast<double>(summary_.blips) > erratic_blips * cycles && summary_.blips >= 3) {
      fault(TimingFault::erratic,
            fmt::format("{} short interruptions or closures in {} cycles: the contact chatters, or a "
                        "connection is loose.",
                        summary_.blips, summary_.complete_cycles));
    }
    if (summary_.drifting)
      fault(TimingFault::drifting,
            "On or off time still changes in the later half of the record: let it run longer; if it goes "
            "on, the calibration or the contact resistance is changing.");
    if (!period_limits_ || result_.saturated) return;
    const TimingOutcome outcome = decide(period, *period_limits_, conditions_.guarded);
    if (outcome != TimingOutcome::fail) return;
    if (period.value > period_limits_->max)
      fault(TimingFault::too_slow, "It cycles too slowly: a weak heater, a low supply, or a wrong part.");
    else
      fault(TimingFault::too_fast,
            "It cycles too fast: the switching band is too narrow, or it is a wrong part.");
  }

  void try_versions(double duty, double off_s) {
    if (conditions_.heater != HeaterKind::shunt || !conditions_.measured_voltage_v || !limits_.duty) return;
    std::vector<double> candidates = conditions_.voltage_versions_v;
    if (candidates.empty()) candidates.assign(common_versions_v.begin(), common_versions_v.end());
    if (conditions_.rated_voltage_v) candidates.push_back(*conditions_.rated_voltage_v);
    std::sort(candidates.begin(), candidates.end());
    candidates.erase(std::unique(candidates.begin(), candidates.end()), candidates.end());
    std::vector<double> others;
    bool own_fits = false;
    for (const double rated_v : candidates) {
      VoltageVersion version;
      version.rated_voltage_v = rated_v;
      version.duty = duty_at_rated_voltage(duty, *conditions_.measured_voltage_v, rated_v);
      if (version.duty < 1.0) {
        version.period_s = off_s / (1.0 - version.duty);
        const double on_s = version.period_s - off_s;
        version.fits = inside(limits_.duty, version.duty) && inside(period_limits_, version.period_s) &&
                       inside(limits_.on_s, on_s) && inside(limits_.off_s, off_s);
      }
      const bool own = conditions_.rated_voltage_v && rated_v == *conditions_.rated_voltage_v;
      own_fits = own_fits || (own && version.fits);
      if (version.fits && !own) others.push_back(rated_v);
      result_.versions.push_back(version);
    }
    if (!conditions_.rated_voltage_v) return;
    // 230 V and 240 V are one class: where the part's own fits, its neighbours are no news.
    if (own_fits)
      std::erase_if(others, [&](double v) { return std::abs(v / *conditions_.rated_voltage_v - 1.0) < 0.1; });
    if (others.empty()) return;
    std::vector<std::string> names;
    for (const double rated_v : others) names.push_back(fmt::format("{:g} V", rated_v));
    if (own_fits) {
      result_.remarks.push_back(
          fmt::format("Within these limits the times would also fit a part made for {}: they alone do not "
                      "tell the version, "
                      "so compare the voltage stamped on it.",
                      joined_with_and(names)));
      return;
    }
    result_.remarks.push_back(
        fmt::format("These times do not fit a {:g} V part on {:.0f} V, but a part made for {}: compare the "
                    "voltage stamped on it.",
                    *conditions_.rated_voltage_v, *conditions_.measured_voltage_v, joined_with_and(names)));
  }

  void conclude() {
    if (!result_.faults.empty() && !only_drifting()) {
      result_.outcome = TimingOutcome::fail;
      result_.headline = result_.faults.front().sentence;
      return;
    }
    bool undecided = !summary_.trusted || (conditions_.cycling_expected && result_.findings.empty()) ||
                     (!conditions_.cycling_expected && !standing_passes_) || summary_.drifting;
    for (const TimingFinding& finding : result_.findings) {
      if (finding.outcome == TimingOutcome::fail) {
        result_.outcome = TimingOutcome::fail;
        result_.headline = finding.sentence;
        return;
      }
      undecided = undecided || finding.outcome == TimingOutcome::undecided;
    }
    result_.outcome = undecided ? TimingOutcome::undecided : TimingOutcome::pass;
    if (!undecided)
      result_.headline =
          conditions_.cycling_expected ? "The timing lies inside its limits." : "It stays as it must.";
    else if (conditions_.cycling_expected && limits_empty())
      result_.headline = "There are no timing limits to judge by.";
    else
      result_.headline = "The timing cannot be decided from this record.";
  }

  bool only_drifting() const {
    return std::all_of(result_.faults.begin(), result_.faults.end(),
                       [](const TimingFaultFinding& f) { return f.fault == TimingFault::drifting; });
  }
  bool limits_empty() const { return !limits_.on_s && !limits_.off_s && !limits_.period_s && !limits_.duty; }

  const CycleSummary& summary_;
  const TimingLimits& limits_;
  const std::optional<Interval> period_limits_;  ///< as given, or from on and off times
  const TimingConditions& conditions_;
  const CycleFigures* figures_ = nullptr;
  bool standing_passes_ = false;
  TimingJudgement result_;
};

}  // namespace

std::string to_string(TimingOutcome outcome) {
  switch (outcome) {
    case TimingOutcome::pass:
      return "pass";
    case TimingOutcome::fail:
      return "fail";
    case TimingOutcome::undecided:
      return "undecided";
  }
  return {};
}

std::string to_string(TimingFault fault) {
  switch (fault) {
    case TimingFault::never_opens:
      return "never-opens";
    case TimingFault::never_closes:
      return "never-closes";
    case TimingFault::stays_live:
      return "stays-live";
    case TimingFault::erratic:
      return "erratic";
    case TimingFault::too_slow:
      return "too-slow";
    case TimingFault::too_fast:
      return "too-fast";
    case TimingFault::drifting:
      return "drifting";
  }
  return {};
}

TimingJudgement judge_timing(const CycleSummary& summary, const TimingLimits& limits,
                             const TimingConditions& conditions) {
  return TimingJudge(summary, limits, conditions).run();
}

}  // namespace switchwright
