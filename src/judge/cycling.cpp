#include "switchwright/judge/cycling.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>

#include "judge/channel_findings.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/profile/expectation.hpp"
#include "switchwright/profile/powered.hpp"

namespace switchwright {

namespace {

using namespace tracing;

/// What is known of the supply during the record.
struct Supply {
  std::optional<double> volts;
  std::string from;
  double relative_U = unknown_supply_relative_U;
  int line_channels = 0;
  bool line_live = false;        ///< a line channel was live from the first sample to the last
  bool seen = false;             ///< live at some time, as a channel shows
  bool live_throughout = false;  ///< on a line channel, or a pilot that stayed lit
};

bool live_at_all(const CycleSummary& s) {
  return s.state == ChannelState::always_on || (s.state == ChannelState::cycling && s.edges > 0);
}

Supply supply_of(const Profile& profile, const std::string& position, const std::vector<CyclingChannel>& channels,
                 const std::vector<ChannelRole>& roles, const CyclingConditions& conditions) {
  Supply supply;
  const auto take = [&](const CyclingChannel& channel, double volts, const char* how) {
    if (!(volts > 0.0)) return;
    supply.volts = volts;
    supply.from = how + channel.name;
    if (channel.U_v) supply.relative_U = *channel.U_v / volts;
  };
  if (conditions.supply_v) {
    supply.volts = conditions.supply_v;
    supply.from = "stated";
  }
  for (std::size_t i = 0; i < channels.size(); ++i) {
    const CyclingChannel& channel = channels[i];
    const CycleSummary& s = *channel.summary;
    const bool steadily_live = s.state == ChannelState::always_on && s.blips == 0;
    if (roles[i] == ChannelRole::line) {
      ++supply.line_channels;
      supply.live_throughout = supply.live_throughout || steadily_live;
      supply.line_live = supply.line_live || steadily_live;
      if (channel.voltage && s.state == ChannelState::always_on && s.high_level)
        take(channel, channel.rms.value_or(*s.high_level), "measured on ");
    } else if (roles[i] == ChannelRole::pilot) {
      supply.live_throughout = supply.live_throughout || steadily_live;
    }
    supply.seen = supply.seen || (roles[i] != ChannelRole::other && live_at_all(s));
  }
  // Nobody stated or measured it: the live load shows it, less what a closed contact drops.
  if (!supply.volts)
    for (std::size_t i = 0; i < channels.size(); ++i)
      if (roles[i] == ChannelRole::load && channels[i].volts_said && channels[i].summary->high_level &&
          live_at_all(*channels[i].summary) && supply.line_channels == 0)
        take(channels[i],
             *channels[i].summary->high_level / share_of_supply(profile, position, load_on(profile, channels[i])),
             "as the live load shows it, on ");
  return supply;
}

void leave_open(TimingJudgement& judged, const std::string& why) {
  judged.outcome = Outcome::undecided;
  judged.headline = why;
  judged.faults.clear();
}

/// Why a channel does not tell on from off; empty when it does.
std::string unreadable(const std::vector<ChannelFinding>& findings, const std::string& channel) {
  for (const ChannelFinding& finding : findings)
    if (finding.channel == channel && (finding.word == "unit" || finding.word == "below-zero")) return finding.sentence;
  return {};
}

/// A dead line opens no contact, but it ends on times and makes off times long: only a contact that stayed closed is
/// then a fault of the part.
void leave_open_without_supply(TimingJudgement& judged) {
  if (judged.outcome != Outcome::fail) return;
  for (const TimingFaultFinding& found : judged.faults)
    if (found.fault == TimingFault::never_opens || found.fault == TimingFault::stays_live) return;
  leave_open(judged, "The line was not live from beginning to end: the times may be those of the supply.");
}

/// Longest and shortest that the profile allows at any position.
struct Dwells {
  std::optional<double> longest_period_s, longest_off_s, shortest_on_s, shortest_off_s;
};
Dwells dwells_anywhere(const Profile& profile) {
  Dwells dwells;
  const auto shorter = [](std::optional<double>& least, const std::optional<Interval>& limits) {
    if (limits && limits->bounded_below() && limits->min > 0.0)
      least = std::min(least.value_or(limits->min), limits->min);
  };
  for (const Timing& timing : profile.timing) {
    shorter(dwells.shortest_on_s, timing.on_s);
    shorter(dwells.shortest_off_s, timing.off_s);
    if (timing.off_s && timing.off_s->bounded_above())
      dwells.longest_off_s = std::max(dwells.longest_off_s.value_or(0.0), timing.off_s->max);
    double longest_s = 0.0;
    if (timing.period_s && timing.period_s->bounded_above())
      longest_s = timing.period_s->max;
    else if (timing.on_s && timing.off_s && timing.on_s->bounded_above() && timing.off_s->bounded_above())
      longest_s = timing.on_s->max + timing.off_s->max;
    if (longest_s > 0.0) dwells.longest_period_s = std::max(dwells.longest_period_s.value_or(0.0), longest_s);
  }
  return dwells;
}

/// Where to measure, in this part, to tell a welded contact from a heater that no longer heats.
std::string welded_or_heater(const Profile& profile) {
  const std::string& rest = profile.positions.front().id;
  std::string text;
  for (const Expectation& expected : expectations(profile)) {
    if (expected.position != rest) continue;
    for (const Contact& contact : profile.contacts)
      if (!contact.cycles_at.empty() && contact.between == expected.pair && !contact.conducts_at(rest))
        text += fmt::format(" {} must then not be closed: if it is, the contact {} is welded.", expected.pair.text(),
                            contact.id);
    for (const Element& element : profile.elements)
      if (element.between == expected.pair && expected.ohm.bounded_above())
        text += fmt::format(" {} must read {} to {}: open means that {} is broken.", expected.pair.text(),
                            human_ohm(expected.ohm.min), human_ohm(expected.ohm.max), element.id);
  }
  if (text.empty()) return {};
  return fmt::format("To tell a weld from a heater: disconnect the part, prove it dead, turn the {} to {}.{}",
                     profile.knob, rest, text);
}

/// The shortest on or off time that is allowed or was seen at this position; 0: not known.
double shortest_dwell_s(const Profile& profile, const std::string& position,
                        const std::vector<CyclingChannel>& channels, const std::vector<ChannelRole>& roles) {
  double shortest_s = std::numeric_limits<double>::infinity();
  const TimingLimits limits = timing_limits(profile, position);
  for (const auto& limit : {limits.on_s, limits.off_s})
    if (limit && limit->bounded_below() && limit->min > 0.0) shortest_s = std::min(shortest_s, limit->min);
  for (std::size_t i = 0; i < channels.size(); ++i)
    if (roles[i] == ChannelRole::load)
      for (const auto& seen : {channels[i].summary->all.on_s.min, channels[i].summary->all.off_s.min})
        if (seen) shortest_s = std::min(shortest_s, *seen);
  return std::isfinite(shortest_s) ? shortest_s : 0.0;
}

/// From the first thing that was recorded to the last.
Interval span_of(const std::vector<CyclingChannel>& channels, const CyclingConditions& conditions) {
  std::optional<Interval> span = conditions.span_s;
  for (const CyclingChannel& channel : channels) {
    const CycleSummary& s = *channel.summary;
    if (s.samples == 0) continue;
    if (!span) span = Interval{s.first_s, s.last_s};
    span->min = std::min(span->min, s.first_s);
    span->max = std::max(span->max, s.last_s);
  }
  return span.value_or(Interval{0.0, 0.0});
}

/// The longest on or off time that is allowed, or was seen where none is stated, at this position; a minute at a standstill.
/// In a longer time something must have happened.
double longest_dwell_s(const Profile& profile, const std::string& position, const std::vector<CyclingChannel>& channels,
                       const std::vector<ChannelRole>& roles) {
  constexpr double standing_s = 60.0;
  const TimingLimits limits = timing_limits(profile, position);
  double longest_s = 0.0;
  for (const auto& limit : {limits.on_s, limits.off_s})
    if (limit && limit->bounded_above()) longest_s = std::max(longest_s, limit->max);
  if (longest_s > 0.0) return longest_s;
  for (std::size_t i = 0; i < channels.size(); ++i)
    if (roles[i] == ChannelRole::load)
      for (const auto& seen : {channels[i].summary->all.on_s.max, channels[i].summary->all.off_s.max})
        if (seen) longest_s = std::max(longest_s, *seen);
  return longest_s > 0.0 ? longest_s : standing_s;
}

}  // namespace

std::optional<double> rms_of(const std::vector<AdaptiveHistogram::Bin>& values) {
  double sum = 0.0, count = 0.0;
  for (const AdaptiveHistogram::Bin& bin : values) {
    sum += static_cast<double>(bin.count) * bin.value * bin.value;
    count += static_cast<double>(bin.count);
  }
  return count > 0.0 ? std::optional{std::sqrt(sum / count)} : std::nullopt;
}

HeaterKind heater_kind(const Profile& profile, const std::string& position) {
  if (!cycles_at(profile, position) || profile.rating.voltage_v <= 0.0 || profile.rating.current_a <= 0.0)
    return HeaterKind::unknown;
  const double rated_ohm = profile.rating.voltage_v / profile.rating.current_a;
  std::optional<HeaterKind> kind;
  for (const Element& element : profile.elements) {
    const HeaterKind own = element.nominal_ohm > 10.0 * rated_ohm  ? HeaterKind::shunt
                           : element.nominal_ohm < 0.1 * rated_ohm ? HeaterKind::series
                                                                   : HeaterKind::unknown;
    kind = !kind || *kind == own ? own : HeaterKind::unknown;
  }
  return kind.value_or(HeaterKind::unknown);
}

TimingLimits timing_limits(const Profile& profile, const std::string& position) {
  for (const Timing& timing : profile.timing)
    if (timing.position == position) return {timing.on_s, timing.off_s, timing.period_s, timing.duty};
  return {};
}

TimingConditions expected_timing(const Profile& profile, const std::string& position,
                                 const CyclingConditions& conditions, const PoweredLoad* load) {
  const Should should = load_should(profile, position, load);
  TimingConditions timing;
  if (profile.rating.voltage_v > 0.0) timing.rated_voltage_v = profile.rating.voltage_v;
  timing.measured_voltage_v = conditions.supply_v;
  timing.measured_relative_U = unknown_supply_relative_U;
  timing.heater = heater_kind(profile, position);
  timing.guarded = conditions.rule == DecisionRule::guarded;
  timing.cycling_expected = should == Should::cycle;
  timing.closed_expected = should != Should::dead;
  const Dwells dwells = dwells_anywhere(profile);
  timing.longest_period_s = dwells.longest_period_s;
  timing.longest_off_s = dwells.longest_off_s;
  timing.part_cycles = std::any_of(profile.contacts.begin(), profile.contacts.end(),
                                   [](const Contact& contact) { return !contact.cycles_at.empty(); });
  timing.shortest_excursion_s = timing.closed_expected ? dwells.shortest_off_s : dwells.shortest_on_s;
  return timing;
}

CyclingJudgement judge_cycling(const Profile& profile, const std::string& position,
                               const std::vector<CyclingChannel>& channels, const CyclingConditions& conditions) {
  if (profile.position(position) == nullptr) {
    std::vector<std::string> known;
    for (const Position& p : profile.positions) known.push_back(p.id);
    throw Error(ErrorKind::usage, "profile " + profile.id + " has no position \"" + position + "\"", "--position",
                suggestion(position, known));
  }
  CyclingJudgement judgement;
  std::vector<NamedChannel> names;
  for (const CyclingChannel& channel : channels) names.push_back({channel.name, channel.role});
  const auto roles = roles_of(names, profile);
  judgement.heater = heater_kind(profile, position);
  const Supply supply = supply_of(profile, position, channels, roles, conditions);
  judgement.supply_v = supply.volts;
  judgement.supply_from = supply.from;

  const Interval record_s = span_of(channels, conditions);
  const double unseen_at_most_s = longest_dwell_s(profile, position, channels, roles);
  Outcome outcome = Outcome::pass;
  for (std::size_t i = 0; i < channels.size(); ++i) {
    if (roles[i] == ChannelRole::pilot)
      judgement.findings.push_back(pilot_finding(channels[i], pilot_should(profile, position),
                                                 shortest_dwell_s(profile, position, channels, roles), supply.seen));
    if (roles[i] == ChannelRole::line)
      judgement.findings.push_back(line_finding(profile, channels[i], conditions.rule));
    if (roles[i] == ChannelRole::other)
      judgement.remarks.push_back("The channel " + channels[i].name +
                                  " has no role, so it is not judged: state it with --role.");
    if (roles[i] != ChannelRole::other)
      if (auto unit = wrong_unit(channels[i], roles[i])) judgement.findings.push_back(std::move(*unit));
    if (roles[i] == ChannelRole::load || roles[i] == ChannelRole::pilot)
      for (ChannelFinding& finding : level_findings({profile, position, channels[i], roles[i], supply.volts,
                                                     supply.relative_U, supply.from == "stated", supply.line_channels}))
        judgement.findings.push_back(std::move(finding));
    if (roles[i] == ChannelRole::load || roles[i] == ChannelRole::pilot)
      if (auto finding = unwatched(channels[i], roles[i], record_s, unseen_at_most_s))
        judgement.findings.push_back(std::move(*finding));
    if (roles[i] != ChannelRole::load) continue;
    const PoweredLoad* on = load_on(profile, channels[i]);
    if (!supply.volts && !channels[i].unit.empty() && load_should(profile, position, on) == Should::cycle)
      judgement.findings.push_back(
          {channels[i].name, ChannelRole::load, Outcome::undecided, "volts-unknown",
           "Nobody knows by how many volts it was traced, and how long it stays on depends on them: "
           "record the line too, or state the supply with --supply."});
    TimingConditions timing = expected_timing(profile, position, conditions, on);
    timing.measured_voltage_v = supply.volts;
    timing.measured_relative_U = supply.relative_U;
    timing.supply_seen = supply.seen;
    timing.supply_live_throughout = supply.live_throughout;
    if (timing.heater == HeaterKind::series && profile.powered && conditions.load_ohm && supply.volts)
      for (const PoweredLoad& load : profile.powered->loads)
        if (!load.lamp) {
          timing.rated_current_a = profile.powered->voltage_v / load.ohm;
          timing.measured_current_a = *supply.volts / *conditions.load_ohm;
        }
    TimingJudgement judged = judge_timing(*channels[i].summary, timing_limits(profile, position), timing);
    if (supply.line_channels > 0 && !supply.line_live) leave_open_without_supply(judged);
    if (const std::string why = unreadable(judgement.findings, channels[i].name); !why.empty()) leave_open(judged, why);
    judgement.remarks.insert(judgement.remarks.end(), judged.remarks.begin(), judged.remarks.end());
    for (const TimingFaultFinding& fault : judged.faults)
      if (fault.fault == TimingFault::never_opens)
        if (const std::string how = welded_or_heater(profile); !how.empty()) judgement.remarks.push_back(how);
    const Outcome before = outcome;
    outcome = worse(outcome, judged.outcome);
    // Of several loads the worst one is shown, else the first that cycles.
    const Should should = load_should(profile, position, on);
    const bool first_to_cycle = should == Should::cycle && judgement.expected != words(Should::cycle);
    if (judgement.timing && outcome == before && !first_to_cycle) continue;
    judgement.load_channel = channels[i].name;
    judgement.expected = words(should);
    judgement.headline = judged.headline;
    judgement.timing = std::move(judged);
  }
  if (judgement.load_channel.empty()) {
    outcome = Outcome::undecided;
    judgement.headline = "No channel is the load: call it load, or state which one is with --role NAME=load.";
  }
  for (ChannelFinding& finding : unseen_loads(profile, channels, roles))
    judgement.findings.push_back(std::move(finding));
  const bool timing_fails = outcome == Outcome::fail;
  for (const ChannelFinding& finding : judgement.findings) {
    // A supply outside its range is no fault of the switch: it only leaves the question open.
    const bool condition = finding.word == "out-of-range" || finding.role == ChannelRole::line;
    const Outcome counts = condition && finding.outcome == Outcome::fail ? Outcome::undecided : finding.outcome;
    if (counts == Outcome::fail && !timing_fails) judgement.headline = finding.sentence;
    if (counts == Outcome::undecided && outcome == Outcome::pass) judgement.headline = finding.sentence;
    outcome = worse(outcome, counts);
  }
  judgement.scope[ScopePart::timing] = {as_decided(outcome), judgement.headline, {}};
  if (outcome == Outcome::undecided)
    judgement.scope.undecided(ScopePart::timing, judgement.headline, "Put right what is said above and trace again.");
  judgement.required = conditions.required;
  const Conclusion conclusion = conclude(judgement.scope, judgement.required);
  if (conclusion.outcome != outcome) judgement.headline = conclusion.headline;
  judgement.outcome = conclusion.outcome;
  return judgement;
}

}  // namespace switchwright
