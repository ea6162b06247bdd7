#include "switchwright/judge/timing.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "judge/timing_dwell.hpp"
#include "judge/timing_figures.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/judge/conformance.hpp"

namespace switchwright {

namespace {

using timing::Value;

constexpr std::uint64_t most_warm_up = 3;  // cycles; common practice, no source
constexpr double erratic_spread = 0.25;    // sd of the period as a share of its mean
constexpr double erratic_blips = 0.5;      // blips per cycle
constexpr std::array common_versions_v{100.0, 120.0, 208.0, 220.0, 230.0, 240.0};  // common practice, no source

/// A part whose on and off times are limited has a limited period too.
std::optional<Interval> period_limits(const TimingLimits& limits) {
  if (limits.period_s || !limits.on_s || !limits.off_s) return limits.period_s;
  return Interval{limits.on_s->min + limits.off_s->min, limits.on_s->max + limits.off_s->max};
}

std::string cycles_words(std::uint64_t count, const char* kind = "") {
  return fmt::format("{} {}{}", count, kind, count == 1 ? "cycle" : "cycles");
}

bool inside(const std::optional<Interval>& limits, double value) { return !limits || limits->contains(value); }

class TimingJudge {
 public:
  TimingJudge(const CycleSummary& summary, const TimingLimits& limits, const TimingConditions& conditions)
      : summary_(summary),
        limits_(limits),
        period_limits_(period_limits(limits)),
        conditions_(conditions),
        at_rated_(conditions) {
    const bool use_steady = summary.steady_from_cycle && summary.steady.cycles >= least_cycles;
    figures_ = use_steady ? &summary.steady : &summary.all;
    longest_ = timing::longest_dwells(limits, at_rated_, *figures_);
    if (!use_steady || *summary.steady_from_cycle == 1) return;
    const std::uint64_t warm_up = *summary.steady_from_cycle - 1;
    result_.remarks.push_back(
        warm_up == 1 ? std::string{"The first cycle is warm-up and left out of the judgement."}
                     : fmt::format("The first {} are warm-up and left out of the judgement.", cycles_words(warm_up)));
    if (summary.all.on_s.max && *summary.all.on_s.max > 3.0 * longest_.period_s)
      fault(TimingFault::never_opens,
            fmt::format("The contact once stayed closed for {} before it was steady: no cold start takes that long.",
                        human_seconds(*summary.all.on_s.max)));
    if (warm_up > most_warm_up && !all_inside())
      leave_open(
          fmt::format("{} before it was steady are more than a warm-up: let it run until it is steady, then "
                      "record it again.",
                      cycles_words(warm_up)));
  }

  TimingJudgement run() {
    remark_on_record();
    if (summary_.state == ChannelState::cycling && !(summary_.duration_s() > 0.0)) {
      leave_open("Every sample bears the same time: nothing can be timed.");
      conclude();
      return std::move(result_);
    }
    if (!conditions_.cycling_expected) {
      take(timing::standing(summary_, conditions_));
    } else if (summary_.state == ChannelState::cycling) {
      judge_cycling();
      if (!closed_forever_here()) take(timing::last_dwell(summary_, longest_, conditions_));
      take(timing::first_dwell(summary_, longest_, conditions_));
      take(timing::unseen_dwell(summary_, longest_));
    } else if (!closed_forever_here()) {
      take(timing::never_switched(summary_, longest_, conditions_));
    }
    if (conditions_.cycling_expected && summary_.complete_cycles < least_cycles)
      leave_open(fmt::format("{}: at least {} are needed to pass.", cycles_words(summary_.complete_cycles, "complete "),
                             least_cycles));
    conclude();
    return std::move(result_);
  }

 private:
  void remark_on_record() {
    if (!summary_.trusted)
      for (const std::string& reason : summary_.reasons) result_.remarks.push_back(reason);
    if (!conditions_.cycling_expected) return;
    if (summary_.complete_cycles < recommended_cycles)
      result_.remarks.push_back(
          fmt::format("{}; at least {} are recommended (40 switching operations, after CISPR 14-1).",
                      cycles_words(summary_.complete_cycles, "complete "), recommended_cycles));
    if (summary_.incomplete_cycles > 0)
      result_.remarks.push_back(fmt::format("{} could not be counted because of gaps in the record.",
                                            cycles_words(summary_.incomplete_cycles)));
  }

  void fault(TimingFault what, std::string sentence) { result_.faults.push_back({what, std::move(sentence)}); }

  /// What keeps it from passing, without a fault being known.
  void leave_open(std::string why) {
    if (open_.empty()) open_ = why;
    result_.remarks.push_back(std::move(why));
    left_open_ = true;
  }

  /// Every complete cycle of the record lies inside the limits, those before the steady part too.
  bool all_inside() const {
    const auto inside_here = [&](const char* quantity, const Figure& figure, const std::optional<Interval>& limits) {
      if (!limits) return true;
      if (!figure.min || !figure.max) return false;
      const Interval here = limits_here(quantity, *limits);
      return here.contains(*figure.min) && here.contains(*figure.max);
    };
    return inside_here("on time", summary_.all.on_s, limits_.on_s) &&
           inside_here("off time", summary_.all.off_s, limits_.off_s) &&
           inside_here("period", summary_.all.period_s, limits_.period_s) &&
           inside_here("duty", summary_.all.duty, limits_.duty);
  }

  void take(const timing::DwellFinding& found) {
    if (found.outcome == Outcome::fail)
      fault(*found.fault, found.sentence);
    else if (found.outcome == Outcome::undecided && !found.sentence.empty())
      leave_open(found.sentence);
    else if (!found.sentence.empty())
      result_.remarks.push_back(found.sentence);
  }

  /// It stays closed, and at this supply even a good part would.
  bool closed_forever_here() {
    const bool closed = summary_.state == ChannelState::cycling ? summary_.high_at_end.value_or(false)
                                                                : summary_.state == ChannelState::always_on;
    const auto ratio = at_rated_.ratio();
    if (!closed || !ratio || !limits_.duty || !limits_.duty->bounded_above() || limits_.duty->max / *ratio < 1.0)
      return false;
    if (summary_.last_dwell_s() <= longest_.on_s) return false;
    result_.saturated = true;
    leave_open(
        "At this supply the duty would reach 1 even for a good part: a contact that never opens proves nothing here. "
        "Repeat at rated voltage or at a lower setting.");
    return true;
  }

  void judge_cycling() {
    if (!figures_->period_s.mean) return;
    result_.operations_per_hour = 2.0 * 3600.0 / *figures_->period_s.mean;
    result_.click_rate_per_min = 60.0 / *figures_->period_s.mean;
    const Value period = value_of(figures_->period_s);
    if (!figures_->on_s.mean) {
      // Coarse sampling left the period alone.
      if (!at_rated_.carries()) add("period", "s", figures_->period_s, period, period_limits_, false);
      return;
    }
    const Value off = value_of(figures_->off_s), duty = value_of(figures_->duty);
    Value on_rated = value_of(figures_->on_s), period_rated = period, duty_rated = duty;
    const bool carried = at_rated_.carries();
    if (carried)
      carry(off, duty_rated, on_rated, period_rated);
    else if (!at_rated_.ratio())
      remark_on_conditions();
    else
      result_.duty_at_rated = duty.value;
    if (!result_.saturated) {
      add("on time", "s", figures_->on_s, on_rated, limits_.on_s, carried);
      add("period", "s", figures_->period_s, period_rated, limits_.period_s, carried);
    }
    add("off time", "s", figures_->off_s, off, limits_.off_s, false);
    add("duty", "", figures_->duty, duty_rated, limits_.duty, carried);
    if (summary_.trusted) name_faults(period_rated);
    try_versions(duty.value, off.value);
  }

  static Value value_of(const Figure& figure) { return {*figure.mean, figure.U.value_or(0.0)}; }

  /// Duty and the times that follow from it at rated conditions; U goes along with the slope.
  void carry(const Value& off, Value& duty, Value& on, Value& period) {
    const Value carried = at_rated_.duty(duty);
    duty = {std::min(carried.value, 1.0), carried.U};
    result_.duty_at_rated = duty.value;
    result_.saturated = carried.value >= 1.0;
    if (result_.saturated) {
      leave_open(
          "At rated conditions the duty would reach 1: the contact would never open, and on time and period are not "
          "judged.");
      return;
    }
    const double left = 1.0 - carried.value;
    const double period_s = off.value / left;
    period = {period_s, std::hypot(off.U / left, off.value * duty.U / (left * left))};
    on = {period_s * carried.value, std::hypot(off.U * carried.value / left, off.value * duty.U / (left * left))};
    result_.remarks.push_back(fmt::format(
        "Duty, on time and period are carried to rated conditions (heat ratio {:.4f}, known to {:.2g} %); the "
        "off time does not depend on them.",
        *at_rated_.ratio(), 200.0 * conditions_.measured_relative_U));
  }

  void remark_on_conditions() {
    if (conditions_.heater == HeaterKind::series)
      result_.remarks.push_back(
          "A series heater answers to the load current: state measured and rated current, or test with the "
          "load it is made for. The duty is judged as measured.");
    else if (conditions_.heater == HeaterKind::shunt)
      result_.remarks.push_back("Measured and rated voltage are not both known: the duty is judged as measured.");
  }

  void add(const char* quantity, const char* unit, const Figure& figure, const Value& value,
           const std::optional<Interval>& limits, bool carried) {
    if (!limits) return;
    timing::Judged judged{quantity, unit,    value,   *figure.mean, carried,
                          &figure,  *limits, *limits, 0.0,          figures_->cycles};
    judged.limits_here = limits_here(quantity, *limits);
    judged.U_of_one = 2.0 * figures_->u_duration_s;
    if (judged.unit[0] == '\0') judged.U_of_one /= *figures_->period_s.mean;
    result_.findings.push_back(timing::finding_for(judged, conditions_.guarded));
  }

  /// Limits at rated conditions as limits of what is measured here, beside the mean off time.
  Interval limits_here(const std::string& quantity, const Interval& rated) const {
    if (!at_rated_.carries() || quantity == "off time") return rated;
    const double off_s = *figures_->off_s.mean;
    const auto here = [&](double limit) {
      if (!std::isfinite(limit)) return limit;
      if (quantity == "duty") return std::min(limit / *at_rated_.ratio(), limit > 1.0 ? limit : 1.0);
      if (quantity == "period") return limit > off_s ? off_s + at_rated_.on_here_s(limit - off_s, off_s) : limit;
      return at_rated_.on_here_s(limit, off_s);
    };
    return {here(rated.min), here(rated.max)};
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
    const DecisionRule rule = conditions_.guarded ? DecisionRule::guarded : DecisionRule::simple;
    if (decide(period.value, period.U, *period_limits_, rule) != Outcome::fail) return;
    if (period.value > period_limits_->max)
      fault(TimingFault::too_slow, "It cycles too slowly: a weak heater, a low supply, or a wrong part.");
    else
      fault(TimingFault::too_fast, "It cycles too fast: the switching band is too narrow, or it is a wrong part.");
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
    for (const TimingFaultFinding& found : result_.faults)
      if (found.fault != TimingFault::drifting) return conclude(Outcome::fail, found.sentence);
    bool undecided = !summary_.trusted || left_open_ || summary_.drifting || summary_.state == ChannelState::unknown ||
                     (conditions_.cycling_expected && result_.findings.empty());
    std::string too_near;
    for (const TimingFinding& finding : result_.findings) {
      if (finding.outcome == Outcome::fail) return conclude(Outcome::fail, finding.sentence);
      if (finding.outcome == Outcome::undecided && too_near.empty()) too_near = finding.sentence;
    }
    if (conditions_.cycling_expected && limits_empty())
      return conclude(Outcome::undecided, "There are no timing limits to judge by.");
    if (!open_.empty()) return conclude(Outcome::undecided, open_);
    if (undecided) return conclude(Outcome::undecided, "The timing cannot be decided from this record.");
    if (!too_near.empty()) return conclude(Outcome::undecided, too_near);
    conclude(Outcome::pass,
             conditions_.cycling_expected ? "The timing lies inside its limits." : "It stays as it must.");
  }
  void conclude(Outcome outcome, std::string headline) {
    result_.outcome = outcome;
    result_.headline = std::move(headline);
  }

  bool limits_empty() const { return !limits_.on_s && !limits_.off_s && !limits_.period_s && !limits_.duty; }

  const CycleSummary& summary_;
  const TimingLimits& limits_;
  const std::optional<Interval> period_limits_;  ///< as given, or from on and off times
  const TimingConditions& conditions_;
  const timing::AtRated at_rated_;
  timing::LongestDwells longest_{};
  const CycleFigures* figures_ = nullptr;
  std::string open_;  ///< the first reason why it is left open
  bool left_open_ = false;
  TimingJudgement result_;
};

}  // namespace

std::string to_string(TimingFault fault) {
  switch (fault) {
    case TimingFault::never_opens: return "never-opens";
    case TimingFault::never_closes: return "never-closes";
    case TimingFault::stays_live: return "stays-live";
    case TimingFault::erratic: return "erratic";
    case TimingFault::too_slow: return "too-slow";
    case TimingFault::too_fast: return "too-fast";
    case TimingFault::drifting: return "drifting";
  }
  return {};
}

TimingJudgement judge_timing(const CycleSummary& summary, const TimingLimits& limits,
                             const TimingConditions& conditions) {
  return TimingJudge(summary, limits, conditions).run();
}

std::optional<std::string> overdue(const TimingLimits& limits, const TimingConditions& conditions,
                                   const CycleFigures& seen, bool closed, double for_s) {
  if (!conditions.cycling_expected) {
    if (closed == conditions.closed_expected) return std::nullopt;
    return std::string{closed ? "The load is live where it must be dead." : "The load is dead where it must be live."};
  }
  const double limit_s = *longest_dwell_s(limits, conditions, seen, closed);
  if (!(for_s > limit_s)) return std::nullopt;
  return fmt::format("{} for {}, where {} is the most.", closed ? "ON" : "Off", human_seconds(for_s),
                     human_seconds(limit_s));
}

std::optional<double> longest_dwell_s(const TimingLimits& limits, const TimingConditions& conditions,
                                      const CycleFigures& seen, bool closed) {
  if (!conditions.cycling_expected) return std::nullopt;
  const timing::LongestDwells longest = timing::longest_dwells(limits, timing::AtRated{conditions}, seen);
  return closed ? longest.on_s : longest.off_s;
}

std::string limits_words(const TimingLimits& limits) {
  std::string text;
  const auto add = [&](const char* name, const std::optional<Interval>& interval, const char* unit) {
    if (interval) text += (text.empty() ? "" : ", ") + std::string{name} + " " + timing::words(*interval, unit);
  };
  add("on", limits.on_s, "s");
  add("off", limits.off_s, "s");
  add("period", limits.period_s, "s");
  add("duty", limits.duty, "");
  return text;
}

}  // namespace switchwright
