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

/// What a point of the circuit should do.
enum class Should { cycle, live, dead, unknown };

bool says(const std::string& name, std::initializer_list<const char*> words) {
  std::string lower = name;
  std::transform(lower.begin(), lower.end(), lower.begin(),
                 [](unsigned char c) { return static_cast<char>(std::tolower(c)); });
  return std::any_of(words.begin(), words.end(),
                     [&](const char* word) { return lower.find(word) != std::string::npos; });
}

bool cycles_at(const Profile& profile, const std::string& position) {
  return std::any_of(profile.contacts.begin(), profile.contacts.end(),
                     [&](const Contact& contact) { return contact.cycles(position); });
}

Should from_network(const Profile& profile, const std::string& position, const Pair& pair) {
  for (const VoltageExpectation& expected : voltage_expectations(profile)) {
    if (expected.position != position || expected.pair != pair) continue;
    switch (expected.state) {
      case VoltageState::live:
        return Should::live;
      case VoltageState::dead:
        return Should::dead;
      case VoltageState::cycles:
        return Should::cycle;
      case VoltageState::divided:
      case VoltageState::not_checked:
        return Should::unknown;
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
  for (const Contact& contact : profile.contacts)
    if (says(contact.id, {"pilot", "lamp"}))
      return contact.conducts_at(position) ? Should::live : Should::dead;
  return Should::unknown;
}

std::string words(Should should) {
  switch (should) {
    case Should::cycle:
      return "cycle";
    case Should::live:
      return "stay live";
    case Should::dead:
      return "stay dead";
    case Should::unknown:
      return "";
  }
  return {};
}

Outcome to_outcome(TimingOutcome outcome) {
  switch (outcome) {
    case TimingOutcome::pass:
      return Outcome::pass;
    case TimingOutcome::fail:
      return Outcome::fail;
    case TimingOutcome::undecided:
      return Outcome::undecided;
  }
  return Outcome::undecided;
}

/// The pilot: live, without an interruption, as long as the knob is on; dead when it is off.
/// @param shortest_s a gap shorter than this hides no interruption: no contact of the part stands for less.
ChannelFinding pilot_finding(const CyclingChannel& channel, Should should, double shortest_s) {
  const CycleSummary& s = *channel.summary;
  ChannelFinding finding{channel.name, ChannelRole::pilot, Outcome::undecided, "", ""};
  const std::string how_long = human_seconds(s.duration_s());
  if (should == Should::unknown || should == Should::cycle) {
    finding.sentence = "The profile does not say what the pilot should do at this position.";
  } else if (s.state == ChannelState::unknown) {
    finding.sentence = "Too few samples to say what the pilot did.";
  } else if (should == Should::live) {
    if (s.state == ChannelState::always_off) {
      finding = {channel.name, ChannelRole::pilot, Outcome::fail, "dead",
                 "The pilot was dead for the whole " + how_long + " although the knob was on."};
    } else if (s.edges > 0 || s.blips > 0) {
      finding = {
          channel.name, ChannelRole::pilot, Outcome::fail, "interrupted",
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
              : fmt::format("The pilot was live whenever it was sampled, but {} could hide an interruption.",
                            gaps);
    }
  } else if (s.state == ChannelState::always_off) {
    finding.outcome = Outcome::pass;
    finding.sentence = "The pilot stayed dead, as it must.";
  } else {
    finding = {channel.name, ChannelRole::pilot, Outcome::fail, "live",
               "The pilot was live where it must be dead."};
  }
  return finding;
}

std::optional<Interval> line_range(const Profile& profile) {
  if (profile.powered) return profile.powered->supply_v;
  if (profile.rating.voltage_v > 0.0)
    return supply_range_v(SupplyStandard::ansi_c84_1, profile.rating.voltage_v);
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
    finding = {
        channel.name, ChannelRole::line, Outcome::fail,
        s.state == ChannelState::always_off ? "dead" : "out-of-range",
        fmt::format("The line was {}, outside {}: the timing says little about the switch.", seen, limits)};
  } else if (low < range->min + guard || high > range->max - guard) {
    finding.sentence = fmt::format("The line was {}, too near to the ends of {} to decide (U = {:.1f} V).",
                                   seen, limits, guard);
  } else {
    finding.outcome = Outcome::pass;
    finding.sentence = fmt::format("The line stayed at {}, inside {}.", seen, limits);
  }
  return finding;
}

TimingLimits limits_at(const Profile& profile, const std::string& position) {
  for (const Timing& timing : profile.timing)
    if (timing.position == position) return {timing.on_s, timing.off_s, timing.period_s, timing.duty};
  return {};
}

/// Where to measure, in this part, to tell a welded contact from a heater that no longer heats.
std::string welded_or_heater(const Profile& profile) {
  const std::string& rest = profile.positions.front().id;
  std::string text;
  for (const Expectation& expected : expectations(profile)) {
    if (expected.position != rest) continue;
    for (const Contact& contact : profile.contacts)
      if (!contact.cycles_at.empty() && contact.between == expected.pair && !contact.conducts_at(rest))
        text += fmt::format(" {} must then not be closed: if it is, the contact {} is welded.",
                            expected.pair.text(), contact.id);
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
  const TimingLimits limits = limits_at(profile, position);
  for (const auto& limit : {limits.on_s, limits.off_s})
    if (limit && limit->bounded_below() && limit->min > 0.0) shortest_s = std::min(shortest_s, limit->min);
  for (std::size_t i = 0; i < channels.size(); ++i)
    if (roles[i] == ChannelRole::load)
      for (const auto& seen : {channels[i].summary->all.on_s.min, channels[i].summary->all.off_s.min})
        if (seen) shortest_s = std::min(shortest_s, *seen);
  return std::isfinite(shortest_s) ? shortest_s : 0.0;
}

}  // namespace

std::string to_string(ChannelRole role) {
  switch (role) {
    case ChannelRole::load:
      return "load";
    case ChannelRole::pilot:
      return "pilot";
    case ChannelRole::line:
      return "line";
    case ChannelRole::other:
      return "other";
  }
  return {};
}

std::optional<double> rms_of(const std::vector<AdaptiveHistogram::Bin>& values) {
  double sum = 0.0, count = 0.0;
  for (const AdaptiveHistogram::Bin& bin : values) {
    sum += static_cast<double>(bin.count) * bin.value * bin.value;
    count += static_cast<double>(bin.count);
  }
  return count > 0.0 ? std::optional{std::sqrt(sum / count)} : std::nullopt;
}

std::vector<ChannelRole> roles_of(const std::vector<std::string>& channel_names) {
  std::vector<ChannelRole> roles;
  for (const std::string& name : channel_names)
    roles.push_back(says(name, {"pilot", "lamp"})             ? ChannelRole::pilot
                    : says(name, {"line", "supply", "mains"}) ? ChannelRole::line
                                                              : ChannelRole::other);
  std::size_t load = roles.size();
  for (std::size_t i = roles.size(); i-- > 0;)
    if (roles[i] == ChannelRole::other) load = i;
  for (std::size_t i = roles.size(); i-- > 0;)
    if (roles[i] == ChannelRole::other && says(channel_names[i], {"load"})) load = i;
  if (load < roles.size()) roles[load] = ChannelRole::load;
  return roles;
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

CyclingJudgement judge_cycling(const Profile& profile, const std::string& position,
                               const std::vector<CyclingChannel>& channels,
                               const CyclingConditions& conditions) {
  if (profile.position(position) == nullptr) {
    std::vector<std::string> known;
    for (const Position& p : profile.positions) known.push_back(p.id);
    throw Error(ErrorKind::usage, "profile " + profile.id + " has no position \"" + position + "\"",
                "--position", suggestion(position, known));
  }
  CyclingJudgement judgement;
  const bool guarded = conditions.rule == DecisionRule::guarded;
  std::vector<std::string> names;
  for (const CyclingChannel& channel : channels) names.push_back(channel.name);
  const auto roles = roles_of(names);
  judgement.heater = heater_kind(profile, position);

  judgement.supply_v = conditions.supply_v;
  if (conditions.supply_v) judgement.supply_from = "stated";
  for (std::size_t i = 0; i < channels.size(); ++i)
    if (roles[i] == ChannelRole::line && channels[i].voltage &&
        channels[i].summary->state == ChannelState::always_on && channels[i].summary->high_level) {
      judgement.supply_v = channels[i].rms ? channels[i].rms : channels[i].summary->high_level;
      judgement.supply_from = "measured on " + channels[i].name;
    }

  Outcome outcome = Outcome::pass;
  for (std::size_t i = 0; i < channels.size(); ++i) {
    if (roles[i] == ChannelRole::pilot)
      judgement.findings.push_back(pilot_finding(channels[i], pilot_should(profile, position),
                                                 shortest_dwell_s(profile, position, channels, roles)));
    if (roles[i] == ChannelRole::line)
      judgement.findings.push_back(line_finding(profile, channels[i], guarded));
    if (roles[i] != ChannelRole::load) continue;
    const Should should = load_should(profile, position);
    judgement.load_channel = channels[i].name;
    judgement.expected = words(should);
    TimingConditions timing;
    if (profile.rating.voltage_v > 0.0) timing.rated_voltage_v = profile.rating.voltage_v;
    timing.measured_voltage_v = judgement.supply_v;
    timing.heater = judgement.heater;
    timing.guarded = guarded;
    timing.cycling_expected = should == Should::cycle;
    timing.closed_expected = should != Should::dead;
    if (timing.heater == HeaterKind::series && profile.powered && conditions.load_ohm && judgement.supply_v)
      for (const PoweredLoad& load : profile.powered->loads)
        if (!load.lamp) {
          timing.rated_current_a = profile.powered->voltage_v / load.ohm;
          timing.measured_current_a = *judgement.supply_v / *conditions.load_ohm;
        }
    judgement.timing = judge_timing(*channels[i].summary, limits_at(profile, position), timing);
    judgement.headline = judgement.timing->headline;
    judgement.remarks = judgement.timing->remarks;
    for (const TimingFaultFinding& fault : judgement.timing->faults)
      if (fault.fault == TimingFault::never_opens)
        if (const std::string how = welded_or_heater(profile); !how.empty()) judgement.remarks.push_back(how);
    outcome = worse(outcome, to_outcome(judgement.timing->outcome));
  }
  if (judgement.load_channel.empty()) {
    outcome = Outcome::undecided;
    judgement.headline = "No channel shows the load: name one of them load.";
  }
  const bool timing_fails = outcome == Outcome::fail;
  for (const ChannelFinding& finding : judgement.findings) {
    // A supply outside its range is no fault of the switch: it only leaves the question open.
    const bool condition = finding.role == ChannelRole::line && finding.outcome == Outcome::fail;
    const Outcome counts = condition ? Outcome::undecided : finding.outcome;
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
