#include "switchwright/judge/cycling.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>

#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/profile/expectation.hpp"
#include "switchwright/profile/powered.hpp"

namespace switchwright {

namespace {

/// Expanded uncertainty of a supply that is stated, or measured with an unknown meter (common practice, no source).
constexpr double unknown_supply_relative_U = 0.01;
/// What leads and a sound contact may take from the load, as a share of the supply; a tenth is a fault (common
/// practice, no source).
constexpr double lost_on_the_way = 0.03;
constexpr double lost_by_a_fault = 0.10;

/// What a point of the circuit should do.
enum class Should { cycle, live, dead, unknown };

bool cycles_at(const Profile& profile, const std::string& position) {
  return std::any_of(profile.contacts.begin(), profile.contacts.end(),
                     [&](const Contact& contact) { return contact.cycles(position); });
}

Should from_network(const Profile& profile, const std::string& position, const Pair& pair) {
  for (const VoltageExpectation& expected : voltage_expectations(profile)) {
    if (expected.position != position || expected.pair != pair) continue;
    switch (expected.state) {
      case VoltageState::live: return Should::live;
      case VoltageState::dead: return Should::dead;
      case VoltageState::cycles: return Should::cycle;
      case VoltageState::divided:
      case VoltageState::not_checked:
      case VoltageState::unsolved: return Should::unknown;
    }
  }
  return Should::unknown;
}

Should load_should(const Profile& profile, const std::string& position) {
  if (cycles_at(profile, position)) return Should::cycle;
  if (profile.powered)
    for (const PoweredLoad& load : profile.powered->loads)
      if (!load.lamp)
        if (const Should should = from_network(profile, position, load.between); should != Should::unknown)
          return should;
  // Without a wiring: the contact that cycles elsewhere feeds the load, else any contact.
  const Contact* feeds = nullptr;
  for (const Contact& contact : profile.contacts)
    if (!contact.cycles_at.empty()) feeds = &contact;
  if (feeds != nullptr) return feeds->conducts_at(position) ? Should::live : Should::dead;
  const bool any = std::any_of(profile.contacts.begin(), profile.contacts.end(),
                               [&](const Contact& contact) { return contact.conducts_at(position); });
  return any ? Should::live : Should::dead;
}

Should pilot_should(const Profile& profile, const std::string& position) {
  if (profile.powered)
    for (const PoweredLoad& load : profile.powered->loads)
      if (load.lamp) return from_network(profile, position, load.between);
  return Should::unknown;
}

std::string words(Should should) {
  switch (should) {
    case Should::cycle: return "cycle";
    case Should::live: return "stay live";
    case Should::dead: return "stay dead";
    case Should::unknown: return "";
  }
  return {};
}

/// The pilot: live, without an interruption, as long as the knob is on; dead when it is off.
/// @param shortest_s a gap shorter than this hides no interruption: no contact of the part stands for less.
ChannelFinding pilot_finding(const CyclingChannel& channel, Should should, double shortest_s, bool supply_seen) {
  const CycleSummary& s = *channel.summary;
  ChannelFinding finding{channel.name, ChannelRole::pilot, Outcome::undecided, "", ""};
  const std::string how_long = human_seconds(s.duration_s());
  if (should == Should::unknown || should == Should::cycle) {
    finding.sentence = "The profile does not say what the pilot should do at this position.";
  } else if (s.state == ChannelState::unknown) {
    finding.sentence = "Too few samples to say what the pilot did.";
  } else if (s.state == ChannelState::always_off && !supply_seen) {
    finding.sentence =
        "The pilot was dead for the whole " + how_long + ", but nothing in this record shows that the supply was on.";
  } else if (should == Should::live) {
    if (s.state == ChannelState::always_off) {
      finding = {channel.name, ChannelRole::pilot, Outcome::fail, "dead",
                 "The pilot was dead for the whole " + how_long + " although the knob was on."};
    } else if (s.edges > 0 || s.blips > 0) {
      finding = {channel.name, ChannelRole::pilot, Outcome::fail, "interrupted",
                 fmt::format("The pilot must stay live while the knob is on, but went dead or came back {} times "
                             "in {}.",
                             s.edges + s.blips, how_long)};
    } else {
      const std::string gaps = fmt::format("{} {}", s.gaps, s.gaps == 1 ? "gap" : "gaps");
      finding.outcome = s.gaps == 0 || s.longest_gap_s < shortest_s ? Outcome::pass : Outcome::undecided;
      finding.sentence =
          s.gaps == 0 ? "The pilot stayed live for the whole " + how_long + "."
          : finding.outcome == Outcome::pass
              ? fmt::format(
                    "The pilot stayed live for the whole {} ({} in the samples, the longest {}, too short to "
                    "hide an "
                    "interruption).",
                    how_long, gaps, human_seconds(s.longest_gap_s))
              : fmt::format("The pilot was live whenever it was sampled, but {} could hide an interruption.", gaps);
    }
  } else if (s.state == ChannelState::always_off) {
    finding.outcome = Outcome::pass;
    finding.sentence = "The pilot stayed dead, as it must.";
  } else {
    finding = {channel.name, ChannelRole::pilot, Outcome::fail, "live", "The pilot was live where it must be dead."};
  }
  return finding;
}

std::optional<Interval> line_range(const Profile& profile) {
  if (profile.powered) return profile.powered->supply_v;
  if (profile.rating.voltage_v > 0.0) return supply_range_v(SupplyStandard::ansi_c84_1, profile.rating.voltage_v);
  return std::nullopt;
}

ChannelFinding line_finding(const Profile& profile, const CyclingChannel& channel, bool guarded) {
  const CycleSummary& s = *channel.summary;
  ChannelFinding finding{channel.name, ChannelRole::line, Outcome::undecided, "", ""};
  const auto range = line_range(profile);
  if (!channel.voltage || !range || !channel.min || !channel.max) {
    finding.sentence = "The line voltage cannot be compared with a range.";
    return finding;
  }
  const double guard = guarded ? channel.U_v.value_or(0.0) : 0.0;
  const double low = *channel.min, high = *channel.max;
  const std::string seen = fmt::format("{:.1f} V", low) == fmt::format("{:.1f} V", high)
                               ? fmt::format("{:.1f} V", low)
                               : fmt::format("{:.1f} V to {:.1f} V", low, high);
  const std::string limits = fmt::format("{:g} V to {:g} V", range->min, range->max);
  if (low < range->min - guard || high > range->max + guard || s.edges > 0) {
    finding = {channel.name, ChannelRole::line, Outcome::fail,
               s.state == ChannelState::always_off ? "dead" : "out-of-range",
               fmt::format("The line was {}, outside {}: the timing says little about the switch.", seen, limits)};
  } else if (low < range->min + guard || high > range->max - guard) {
    finding.sentence =
        fmt::format("The line was {}, too near to the ends of {} to decide (U = {:.1f} V).", seen, limits, guard);
  } else {
    finding.outcome = Outcome::pass;
    finding.sentence = fmt::format("The line stayed at {}, inside {}.", seen, limits);
  }
  return finding;
}

/// A live load far from what the supply may be: the wrong supply, or a contact that drops much.
std::optional<ChannelFinding> wrong_supply(const Profile& profile, const CyclingChannel& load) {
  const auto range = line_range(profile);
  const double level_v = *load.summary->high_level;
  // Dead levels are judged as such; and a few volts are lost in leads and contact.
  const double U_v = load.U_v.value_or(unknown_supply_relative_U * level_v) + lost_on_the_way * level_v;
  if (!range || load.summary->state == ChannelState::always_off) return std::nullopt;
  if (level_v >= range->min - U_v && level_v <= range->max + U_v) return std::nullopt;
  return ChannelFinding{
      load.name, ChannelRole::load, Outcome::fail, "out-of-range",
      fmt::format("The live load shows {:.1f} V, outside {:g} V to {:g} V: the timing says little about "
                  "the switch at its own supply.",
                  level_v, range->min, range->max)};
}

/// The volts between two points of the wiring while they are live, at the nominal supply.
std::optional<double> live_v(const Profile& profile, const std::string& position, const Pair& pair) {
  for (const VoltageExpectation& expected : voltage_expectations(profile))
    if (expected.position == position && expected.pair == pair &&
        (expected.state == VoltageState::live || expected.state == VoltageState::cycles))
      return expected.nominal_v;
  return std::nullopt;
}

/// A live load or pilot beside a measured supply: what is missing was lost in a contact, or on the way.
std::optional<ChannelFinding> lost_volts(const Profile& profile, const std::string& position,
                                         const CyclingChannel& channel, ChannelRole role, double supply_v,
                                         double supply_relative_U) {
  if (!profile.powered || !channel.volts_said || !channel.summary->high_level) return std::nullopt;
  if (channel.summary->state == ChannelState::always_off) return std::nullopt;
  for (const PoweredLoad& load : profile.powered->loads) {
    if (load.lamp != (role == ChannelRole::pilot)) continue;
    const auto nominal_v = live_v(profile, position, load.between);
    if (!nominal_v) return std::nullopt;
    const double due_v = *nominal_v * supply_v / profile.powered->voltage_v;
    const double level_v = *channel.summary->high_level;
    const double U_v = channel.U_v.value_or(unknown_supply_relative_U * level_v) + supply_relative_U * due_v;
    if (level_v >= due_v * (1.0 - lost_on_the_way) - U_v) return std::nullopt;
    const bool fault = level_v < due_v * (1.0 - lost_by_a_fault) - U_v;
    return ChannelFinding{
        channel.name, role, fault ? Outcome::fail : Outcome::undecided, "drops",
        fmt::format("The live {} shows {:.1f} V where the supply gives {:.1f} V: the rest is lost in a "
                    "contact or on the way.",
                    to_string(role), level_v, due_v)};
  }
  return std::nullopt;
}

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

Supply supply_of(const std::vector<CyclingChannel>& channels, const std::vector<ChannelRole>& roles,
                 const CyclingConditions& conditions) {
  Supply supply;
  const auto take = [&](const CyclingChannel& channel, double volts, const char* how) {
    supply.volts = volts;
    supply.from = how + channel.name;
    if (channel.U_v && volts > 0.0) supply.relative_U = *channel.U_v / volts;
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
        take(channels[i], *channels[i].summary->high_level, "as the live load shows it, on ");
  return supply;
}

/// A dead line opens no contact, but it ends on times and makes off times long: only a contact that stayed closed is
/// then a fault of the part.
void leave_open_without_supply(TimingJudgement& judged) {
  if (judged.outcome != Outcome::fail) return;
  for (const TimingFaultFinding& found : judged.faults)
    if (found.fault == TimingFault::never_opens || found.fault == TimingFault::stays_live) return;
  judged.outcome = Outcome::undecided;
  judged.headline = "The line was not live from beginning to end: the times may be those of the supply.";
  judged.faults.clear();
}

/// Longest and shortest that the profile allows at any position.
struct Dwells {
  std::optional<double> longest_period_s, shortest_on_s, shortest_off_s;
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
                                 const CyclingConditions& conditions) {
  const Should should = load_should(profile, position);
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
  const bool guarded = conditions.rule == DecisionRule::guarded;
  std::vector<NamedChannel> names;
  for (const CyclingChannel& channel : channels) names.push_back({channel.name, channel.role});
  const auto roles = roles_of(names, profile);
  judgement.heater = heater_kind(profile, position);
  const Supply supply = supply_of(channels, roles, conditions);
  judgement.supply_v = supply.volts;
  judgement.supply_from = supply.from;

  Outcome outcome = Outcome::pass;
  for (std::size_t i = 0; i < channels.size(); ++i) {
    if (roles[i] == ChannelRole::pilot)
      judgement.findings.push_back(pilot_finding(channels[i], pilot_should(profile, position),
                                                 shortest_dwell_s(profile, position, channels, roles), supply.seen));
    if (roles[i] == ChannelRole::line) judgement.findings.push_back(line_finding(profile, channels[i], guarded));
    if (roles[i] == ChannelRole::other)
      judgement.remarks.push_back("The channel " + channels[i].name +
                                  " has no role, so it is not judged: state it with --role.");
    const bool fed = roles[i] == ChannelRole::load || roles[i] == ChannelRole::pilot;
    if (fed && supply.volts && supply.from != "stated")
      if (auto lost = lost_volts(profile, position, channels[i], roles[i], *supply.volts, supply.relative_U))
        judgement.findings.push_back(std::move(*lost));
    if (roles[i] != ChannelRole::load) continue;
    // Without a line channel the live load shows the supply, less the drop of a closed contact.
    if (supply.line_channels == 0 && channels[i].volts_said && channels[i].summary->high_level)
      if (auto wrong = wrong_supply(profile, channels[i])) judgement.findings.push_back(std::move(*wrong));
    TimingConditions timing = expected_timing(profile, position, conditions);
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
    judgement.remarks.insert(judgement.remarks.end(), judged.remarks.begin(), judged.remarks.end());
    for (const TimingFaultFinding& fault : judged.faults)
      if (fault.fault == TimingFault::never_opens)
        if (const std::string how = welded_or_heater(profile); !how.empty()) judgement.remarks.push_back(how);
    const Outcome before = outcome;
    outcome = worse(outcome, judged.outcome);
    // Of several loads the worst one is shown.
    if (judgement.timing && outcome == before) continue;
    judgement.load_channel = channels[i].name;
    judgement.expected = words(load_should(profile, position));
    judgement.headline = judged.headline;
    judgement.timing = std::move(judged);
  }
  if (judgement.load_channel.empty()) {
    outcome = Outcome::undecided;
    judgement.headline = "No channel is the load: call it load, or state which one is with --role NAME=load.";
  }
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
