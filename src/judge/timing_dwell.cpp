#include "judge/timing_dwell.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>

#include "switchwright/core/text.hpp"

namespace switchwright::timing {

namespace {

constexpr double infinite = std::numeric_limits<double>::infinity();
/// So many of the longest periods without switching are a standstill.
constexpr double periods_of_standstill = 3.0;
/// And so long when no period is known: a quarter of an hour.
constexpr double standstill_of_unknown_s = 900.0;

constexpr const char* weld_or_heater =
    "Either it is welded or the bimetal heater is open or unpowered. To tell: turn the knob to OFF; a load that stays "
    "live means a welded contact. If it goes dead, disconnect, prove dead and measure the heater: open means the "
    "heater.";
constexpr const char* supply_not_seen =
    "Nothing in this record shows that the supply was on: record the line too (a channel with the role line).";

double standstill_s(const LongestDwells& longest) {
  return std::isfinite(longest.period_s) ? periods_of_standstill * longest.period_s : standstill_of_unknown_s;
}

/// What an instant of switching leaves open.
double edge_U_s(const CycleSummary& s) { return std::max(s.interval_s.value_or(0.0), s.update_s.value_or(0.0)); }

/// Fewer samples than this are no record.
constexpr std::uint64_t least_standing_samples = 5;

struct StandLongEnough {
  double for_s = 0.0;
  const char* because = "";
};

/// A part whose contact cycles at some position may stand at the wrong one: a knob that is clocked, a cam that slips.
/// Then it would have opened within three of its longest periods, or closed within its longest off time.
StandLongEnough stand_long_enough(const TimingConditions& c) {
  if (!c.part_cycles && !c.longest_period_s) return {};
  if (c.closed_expected)
    return c.longest_period_s
               ? StandLongEnough{periods_of_standstill * *c.longest_period_s,
                                 ", three of the longest periods of this part"}
               : StandLongEnough{standstill_of_unknown_s, ", since the profile has no times for its cycling"};
  if (c.longest_off_s) return {*c.longest_off_s, ", the longest off time of this part"};
  if (c.longest_period_s) return {*c.longest_period_s, ", the longest period of this part"};
  return {standstill_of_unknown_s, ", since the profile has no times for its cycling"};
}

double upper(const std::optional<Interval>& limits) {
  return limits && limits->bounded_above() ? limits->max : infinite;
}

}  // namespace

LongestDwells longest_dwells(const TimingLimits& limits, const AtRated& at_rated, const CycleFigures& seen) {
  LongestDwells longest{upper(limits.on_s), upper(limits.off_s), upper(limits.period_s)};
  longest.period_s = std::min(longest.period_s, longest.on_s + longest.off_s);
  const double off_s = seen.off_s.mean.value_or(0.0);
  if (at_rated.carries() && off_s > 0.0) {
    longest.on_s = at_rated.on_here_s(longest.on_s, off_s);
    if (std::isfinite(longest.period_s) && longest.period_s > off_s)
      longest.period_s = off_s + at_rated.on_here_s(longest.period_s - off_s, off_s);
  }
  const double limited_period_s = longest.period_s;
  if (seen.period_s.max)
    longest.period_s =
        std::isfinite(longest.period_s) ? std::max(longest.period_s, *seen.period_s.max) : *seen.period_s.max;
  // Neither kind of dwell is longer than the longest period that is allowed; or, without limits, a standstill.
  const double otherwise_s = std::isfinite(limited_period_s) ? limited_period_s : standstill_s(longest);
  if (!std::isfinite(longest.on_s)) longest.on_s = otherwise_s;
  if (!std::isfinite(longest.off_s)) longest.off_s = otherwise_s;
  return longest;
}

DwellFinding unseen_dwell(const CycleSummary& s, const LongestDwells& longest) {
  const bool on = s.possible_on_s > longest.on_s + edge_U_s(s);
  if (!on && !(s.possible_off_s > longest.off_s + edge_U_s(s))) return {};
  const double possible_s = on ? s.possible_on_s : s.possible_off_s;
  return {Outcome::undecided,
          {},
          fmt::format(
              "Nobody saw what the contact did in a gap of the record: it may have stayed {} for {}, where {} is the "
              "most. Record it again without the gap.",
              on ? "closed" : "open", std::isfinite(possible_s) ? human_seconds(possible_s) : "any time",
              human_seconds(on ? longest.on_s : longest.off_s))};
}

DwellFinding last_dwell(const CycleSummary& s, const LongestDwells& longest, const TimingConditions& conditions) {
  if (!s.high_at_end) return {};
  const bool closed = *s.high_at_end;
  const double limit_s = closed ? longest.on_s : longest.off_s;
  if (!(s.last_dwell_s() > limit_s + edge_U_s(s))) return {};
  const std::string how_long = human_seconds(s.last_dwell_s());
  const std::string at_most = human_seconds(limit_s);
  const double excursion_s =
      (closed ? s.all.off_s.min : s.all.on_s.min).value_or(closed ? longest.off_s : longest.on_s);
  if (s.longest_gap_in_last_dwell_s >= excursion_s)
    return {Outcome::undecided,
            {},
            fmt::format("Nobody saw what the contact did in a gap of {} at the end of the record.",
                        human_seconds(s.longest_gap_in_last_dwell_s))};
  if (closed)
    return {Outcome::fail, TimingFault::never_opens,
            fmt::format("The contact {} {} to the end of the record, where {} is the most. {}",
                        s.complete_cycles > 0 ? "cycled, then stayed closed for the last" : "stayed closed for",
                        how_long, at_most, weld_or_heater)};
  return {
      Outcome::fail, TimingFault::never_closes,
      fmt::format("The contact cycled, then stayed open for the last {} to the end of the record, where {} is the "
                  "most: it no longer closes, or the leg that feeds it is open.{}",
                  how_long, at_most,
                  conditions.supply_live_throughout
                      ? ""
                      : " If the supply was switched off before the record ended, record it again and end it first.")};
}

DwellFinding first_dwell(const CycleSummary& s, const LongestDwells& longest, const TimingConditions& conditions) {
  if (!s.high_at_start) return {};
  const double standing_s = s.first_dwell_s();
  const bool closed = *s.high_at_start;
  const double limit_s = (closed ? longest.on_s : longest.off_s) + edge_U_s(s);
  if (!(standing_s > limit_s)) return {};
  const std::string how_long = human_seconds(standing_s);
  if (closed) {
    const std::string seen = fmt::format("The contact stayed closed for the first {}, where {} is the most.", how_long,
                                         human_seconds(longest.on_s));
    if (standing_s > standstill_s(longest))
      return {Outcome::fail, TimingFault::never_opens, seen + " No cold start takes that long: it sticks."};
    if (standing_s > longest.period_s)
      return {
          Outcome::undecided, {}, seen + " A cold start, or a contact that sticks: record it again while it is warm."};
    return {Outcome::pass, {}, seen + " That is taken as a cold start."};
  }
  const std::string seen =
      fmt::format("The load was dead for the first {}, where {} is the most.", how_long, human_seconds(longest.off_s));
  if (conditions.supply_live_throughout)
    return {Outcome::fail, TimingFault::never_closes, seen + " The supply was on: the contact did not close."};
  if (standing_s > standstill_s(longest)) return {Outcome::undecided, {}, seen + " " + supply_not_seen};
  return {Outcome::pass, {}, seen + " It is taken as not yet switched on."};
}

DwellFinding never_switched(const CycleSummary& s, const LongestDwells& longest, const TimingConditions& conditions) {
  if (s.state == ChannelState::unknown || s.state == ChannelState::cycling) return {};
  const bool closed = s.state == ChannelState::always_on;
  const std::string how_long = human_seconds(s.duration_s());
  const double enough_s = standstill_s(longest);
  if (s.duration_s() < enough_s)
    return {
        Outcome::undecided,
        {},
        fmt::format("No switching in {}: too short to tell, record at least {}.", how_long, human_seconds(enough_s))};
  if (closed)
    return {Outcome::fail, TimingFault::never_opens,
            fmt::format("The contact never opened in {}. {}", how_long, weld_or_heater)};
  if (!conditions.supply_seen)
    return {Outcome::undecided, {}, fmt::format("The load was dead for the whole {}. {}", how_long, supply_not_seen)};
  return {
      Outcome::fail, TimingFault::never_closes,
      fmt::format("The contact never closed in {}, with the supply on. Check that the knob was on; then the contact, "
                  "or the leg that feeds it, is open.",
                  how_long)};
}

DwellFinding standing(const CycleSummary& s, const TimingConditions& c) {
  const char* state = c.closed_expected ? "live" : "dead";
  const std::string how_long = human_seconds(s.duration_s());
  const auto open = [](std::string sentence) { return DwellFinding{Outcome::undecided, {}, std::move(sentence)}; };
  if (s.state == ChannelState::unknown) return open("Too few samples to say what the load did.");
  if (s.state == ChannelState::cycling)
    return {Outcome::fail, c.closed_expected ? TimingFault::erratic : TimingFault::stays_live,
            c.closed_expected ? "The contact opened at a setting where it must stay closed."
                              : "The load became live at a setting where it must stay dead."};
  if (s.state == ChannelState::always_on && !c.closed_expected)
    return {Outcome::fail, TimingFault::stays_live,
            "The load is live where it must be dead. Disconnect it: the contact is welded or bridged."};
  if (!c.supply_seen && s.state == ChannelState::always_off)
    return open(fmt::format("The load was dead for the whole {}. {}", how_long, supply_not_seen));
  if (s.state == ChannelState::always_off && c.closed_expected)
    return {Outcome::fail, TimingFault::never_closes, "The load is dead where it must be live, with the supply on."};
  if (s.blips > 0)
    return open(fmt::format("It stayed {}, but for {} short {}: a loose connection, or a contact that chatters.", state,
                            s.blips, s.blips == 1 ? "excursion" : "excursions"));
  if (s.samples < least_standing_samples)
    return open(fmt::format("Too few samples ({}) to say that it stayed {}: record at least {}.", s.samples, state,
                            least_standing_samples));
  const StandLongEnough enough = stand_long_enough(c);
  if (s.duration_s() < enough.for_s)
    return open(fmt::format("It stayed {} for {}, too short to say that it does not cycle: record at least {}{}.",
                            state, how_long, human_seconds(enough.for_s), enough.because));
  const double unseen_s = std::max(s.longest_gap_s, edge_U_s(s));
  // How briefly it may switch is not known where the profile has no times: then a second is too long.
  const auto shortest_s = c.shortest_excursion_s || !c.part_cycles ? c.shortest_excursion_s : std::optional{1.0};
  if (shortest_s ? unseen_s > *shortest_s : s.gaps > 0)
    return open(fmt::format("It was {} whenever it was sampled, but {} without a sample could hide that it switched.",
                            state, std::isfinite(unseen_s) ? human_seconds(unseen_s) : "a time"));
  return {};
}

}  // namespace switchwright::timing
