#include "judge/channel_findings.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "switchwright/core/text.hpp"
#include "switchwright/judge/conformance.hpp"

namespace switchwright::tracing {

namespace {

/// What leads and a sound contact may take from the load, as a share of the supply; a tenth is a fault (common
/// practice, no source).
constexpr double lost_on_the_way = 0.03;
constexpr double lost_by_a_fault = 0.10;

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

std::optional<Interval> line_range(const Profile& profile) {
  if (profile.powered) return profile.powered->supply_v;
  if (profile.rating.voltage_v > 0.0) return supply_range_of_rating(profile.rating.voltage_v);
  return std::nullopt;
}

const VoltageExpectation* expected_at(const std::vector<VoltageExpectation>& all, const std::string& position,
                                      const Pair& pair) {
  const auto found = std::find_if(
      all.begin(), all.end(), [&](const VoltageExpectation& e) { return e.position == position && e.pair == pair; });
  return found == all.end() ? nullptr : &*found;
}

bool may_be_live(const VoltageExpectation& e) {
  return e.state == VoltageState::live || e.state == VoltageState::cycles;
}

ChannelFinding finding_on(const LevelCase& c, Outcome outcome, const char* word, std::string sentence) {
  return {c.channel.name, c.role, outcome, word, std::move(sentence)};
}

/// U of a level, by the meter or by common practice.
double U_of(const CyclingChannel& channel, double level_v) {
  return channel.U_v.value_or(unknown_supply_relative_U * std::abs(level_v));
}

/// A live load far from what the supply may be: the wrong supply, or a contact that drops much.
std::optional<ChannelFinding> wrong_supply(const LevelCase& c, double share) {
  const auto range = line_range(c.profile);
  if (!range) return std::nullopt;
  const double level_v = *c.channel.summary->high_level;
  // A few volts are lost in leads and contact.
  const double U_v = U_of(c.channel, level_v) + lost_on_the_way * level_v;
  if (level_v >= range->min * share - U_v && level_v <= range->max * share + U_v) return std::nullopt;
  return finding_on(
      c, Outcome::fail, "out-of-range",
      fmt::format("The live load shows {:.1f} V{}, outside {:g} V to {:g} V: the timing says little about "
                  "the switch at its own supply.",
                  level_v, c.channel.unit.empty() ? " (the column names no unit: write load (A), load (W))" : "",
                  range->min * share, range->max * share));
}

/// A live load or pilot beside a supply that is known: what is missing was lost in a contact, or on the way; what is too
/// much comes by another way.
std::optional<ChannelFinding> wrong_volts(const LevelCase& c, const VoltageExpectation& due) {
  const CycleSummary& s = *c.channel.summary;
  const double scale = *c.supply_v / c.profile.powered->voltage_v;
  const double due_v = *due.nominal_v * scale;
  // Elements that share the supply share it by their tolerances.
  const bool shared = due_v < 0.95 * *c.supply_v;
  const double least_v =
      shared ? due.bands.back().min * *c.supply_v / c.profile.powered->supply_v.min : due_v * (1.0 - lost_on_the_way);
  const double level_v = *s.high_level;
  const double U_v = U_of(c.channel, level_v) + c.supply_relative_U * due_v;
  const std::string name = to_string(c.role);
  if (level_v > due.bands.back().max + U_v + lost_on_the_way * due_v)
    return finding_on(
        c, c.supply_stated ? Outcome::undecided : Outcome::fail, "too-high",
        fmt::format("The live {} shows {:.1f} V where at most {:.1f} V is due: it is fed another way than it "
                    "should be.",
                    name, level_v, due.bands.back().max));
  if (c.supply_stated) {
    if (std::abs(level_v - due_v) <= lost_by_a_fault * due_v + U_v) return std::nullopt;
    return finding_on(
        c, Outcome::undecided, "stated-supply",
        fmt::format("The live {} shows {:.1f} V, and by the stated supply {:.1f} V is due: one of the two is "
                    "wrong. Record the line too.",
                    name, level_v, due_v));
  }
  if (level_v < least_v - U_v)
    return finding_on(
        c, level_v < least_v - (lost_by_a_fault - lost_on_the_way) * due_v - U_v ? Outcome::fail : Outcome::undecided,
        "drops",
        fmt::format("The live {} shows {:.1f} V where the supply gives {:.1f} V: the rest is lost in a "
                    "contact or on the way.",
                    name, level_v, due_v));
  const double lasting_v = s.lowest_lasting_high.value_or(level_v);
  if (lasting_v < level_v - lost_by_a_fault * due_v - U_v)
    return finding_on(
        c, Outcome::undecided, "drops",
        fmt::format("The live {} shows {:.1f} V, but {:.1f} V lasted too: a contact that does not close alike "
                    "each time, or a supply that sags.",
                    name, level_v, lasting_v));
  return std::nullopt;
}

/// Between its on times a load is dead.
std::optional<ChannelFinding> never_dead(const LevelCase& c, const VoltageExpectation* due) {
  const CycleSummary& s = *c.channel.summary;
  if (s.state != ChannelState::cycling || !s.low_level || !s.high_level) return std::nullopt;
  const double low = *s.low_level, high = *s.high_level;
  const char* const unit = c.channel.volts_said ? " V" : "";
  if (!(high > 0.0) || low < -lost_by_a_fault * high)
    return finding_on(c, Outcome::undecided, "below-zero",
                      fmt::format("The {} lies between {:.4g}{} and {:.4g}{}: below zero on and off cannot be told. "
                                  "Exchange the probes, turn the clamp, or measure AC.",
                                  to_string(c.role), low, unit, high, unit));
  double dead_most = lost_by_a_fault * high;
  const double fault_from = dead_most + (c.channel.volts_said ? U_of(c.channel, low) : 0.0);
  if (c.channel.volts_said && c.profile.powered) {
    dead_most = std::min(dead_most, c.profile.powered->dead_max_v);
    if (due && due->bands.size() > 1) dead_most = std::max(dead_most, due->bands.front().max);
    dead_most += U_of(c.channel, low);
  }
  if (low > dead_most)
    return finding_on(
        c, c.channel.volts_said && low > std::max(dead_most, fault_from) ? Outcome::fail : Outcome::undecided,
        "never-dead",
        fmt::format("Between its on times the {} shows {:.4g}{} where it must be dead: it is fed another way, or "
                    "the contact does not open fully.",
                    to_string(c.role), low, unit));
  const double lasting = s.highest_lasting_low.value_or(low);
  if (lasting > std::max(dead_most, lost_by_a_fault * high))
    return finding_on(c, Outcome::undecided, "never-dead",
                      fmt::format("Between its on times the {} showed {:.4g}{} for a while, where it must be dead.",
                                  to_string(c.role), lasting, unit));
  return std::nullopt;
}

/// Of a channel that is not in volts: on times that stand well below the others.
std::optional<ChannelFinding> uneven(const LevelCase& c) {
  const CycleSummary& s = *c.channel.summary;
  if (c.channel.volts_said || s.state == ChannelState::always_off || !s.high_level || !s.lowest_lasting_high)
    return std::nullopt;
  if (*s.lowest_lasting_high >= (1.0 - lost_by_a_fault) * *s.high_level) return std::nullopt;
  return finding_on(
      c, Outcome::undecided, "drops",
      fmt::format("The live {} shows {:.4g} {}, but {:.4g} lasted too: a contact that does not close alike each "
                  "time, a load that changes, or a supply that sags.",
                  to_string(c.role), *s.high_level, c.channel.unit, *s.lowest_lasting_high));
}

/// Volts beyond the range: live, but nobody knows with how many volts.
bool beyond_range_when_live(const LevelCase& c) {
  const CycleSummary& s = *c.channel.summary;
  return c.channel.volts_said && !s.high_level &&
         (s.state == ChannelState::always_on || s.state == ChannelState::cycling);
}

}  // namespace

std::string words(Should should) {
  switch (should) {
    case Should::cycle: return "cycle";
    case Should::live: return "stay live";
    case Should::dead: return "stay dead";
    case Should::unknown: return "";
  }
  return {};
}

bool cycles_at(const Profile& profile, const std::string& position) {
  return std::any_of(profile.contacts.begin(), profile.contacts.end(),
                     [&](const Contact& contact) { return contact.cycles(position); });
}

std::vector<const PoweredLoad*> loads_of(const Profile& profile) {
  std::vector<const PoweredLoad*> loads;
  if (profile.powered)
    for (const PoweredLoad& load : profile.powered->loads)
      if (!load.lamp) loads.push_back(&load);
  return loads;
}

const PoweredLoad* load_on(const Profile& profile, const CyclingChannel& channel) {
  const auto loads = loads_of(profile);
  if (loads.size() == 1) return loads.front();
  for (const PoweredLoad* load : loads)
    if (names_load(channel.name, *load)) return load;
  return nullptr;
}

Should load_should(const Profile& profile, const std::string& position, const PoweredLoad* load) {
  if (load && loads_of(profile).size() > 1)
    if (const Should should = from_network(profile, position, load->between); should != Should::unknown) return should;
  if (cycles_at(profile, position)) return Should::cycle;
  if (profile.powered)
    for (const PoweredLoad* one : loads_of(profile))
      if (const Should should = from_network(profile, position, one->between); should != Should::unknown) return should;
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

double share_of_supply(const Profile& profile, const std::string& position, const PoweredLoad* load) {
  if (!load) return 1.0;
  const auto all = voltage_expectations(profile);
  const VoltageExpectation* due = expected_at(all, position, load->between);
  return due && may_be_live(*due) && due->nominal_v ? *due->nominal_v / profile.powered->voltage_v : 1.0;
}

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

std::optional<ChannelFinding> unwatched(const CyclingChannel& channel, ChannelRole role, const Interval& record_s,
                                        double at_most_s) {
  const CycleSummary& s = *channel.summary;
  if (s.samples == 0) return std::nullopt;
  const double before_s = s.first_s - record_s.min, after_s = record_s.max - s.last_s;
  if (std::max(before_s, after_s) <= at_most_s) return std::nullopt;
  const bool at_end = after_s >= before_s;
  return ChannelFinding{
      channel.name, role, Outcome::undecided, "unwatched",
      fmt::format("Nobody saw the {} in the {} {} of the record, and at most {} may go unseen: look at its meter, and "
                  "record again.",
                  to_string(role), at_end ? "last" : "first", human_seconds(at_end ? after_s : before_s),
                  human_seconds(at_most_s))};
}

ChannelFinding line_finding(const Profile& profile, const CyclingChannel& channel, DecisionRule rule) {
  const CycleSummary& s = *channel.summary;
  ChannelFinding finding{channel.name, ChannelRole::line, Outcome::undecided, "", ""};
  const auto range = line_range(profile);
  if (!channel.voltage || !range || !channel.min || !channel.max) {
    finding.sentence = "The line voltage cannot be compared with a range.";
    return finding;
  }
  const double U = channel.U_v.value_or(0.0);
  const double low = *channel.min, high = *channel.max;
  const std::string seen = fmt::format("{:.1f} V", low) == fmt::format("{:.1f} V", high)
                               ? fmt::format("{:.1f} V", low)
                               : fmt::format("{:.1f} V to {:.1f} V", low, high);
  const std::string limits = fmt::format("{:g} V to {:g} V", range->min, range->max);
  const Outcome within = worse(decide(low, U, *range, rule), decide(high, U, *range, rule));
  if (within == Outcome::fail || s.edges > 0) {
    finding = {channel.name, ChannelRole::line, Outcome::fail,
               s.state == ChannelState::always_off ? "dead" : "out-of-range",
               fmt::format("The line was {}, outside {}: the timing says little about the switch.", seen, limits)};
  } else if (within == Outcome::undecided) {
    finding.sentence =
        fmt::format("The line was {}, too near to the ends of {} to decide (U = {:.1f} V).", seen, limits, U);
  } else {
    finding.outcome = Outcome::pass;
    finding.sentence = fmt::format("The line stayed at {}, inside {}.", seen, limits);
  }
  return finding;
}

std::vector<ChannelFinding> level_findings(const LevelCase& c) {
  std::vector<ChannelFinding> findings;
  const CycleSummary& s = *c.channel.summary;
  const auto take = [&](std::optional<ChannelFinding> finding) {
    if (finding) findings.push_back(std::move(*finding));
  };
  const PoweredLoad* load = nullptr;
  if (c.role == ChannelRole::load)
    load = load_on(c.profile, c.channel);
  else if (c.profile.powered)
    for (const PoweredLoad& lamp : c.profile.powered->loads)
      if (lamp.lamp && !load) load = &lamp;
  const auto all = load ? voltage_expectations(c.profile) : std::vector<VoltageExpectation>{};
  const VoltageExpectation* due = load ? expected_at(all, c.position, load->between) : nullptr;
  if (due && !may_be_live(*due)) due = nullptr;
  if (beyond_range_when_live(c))
    take(finding_on(
        c, Outcome::undecided, "over-range",
        fmt::format("The live {} is beyond the meter's range, so nobody knows its volts. Choose a range above the "
                    "supply.",
                    to_string(c.role))));
  const bool live = s.high_level && s.state != ChannelState::always_off && s.state != ChannelState::unknown;
  if (due && due->nominal_v && c.supply_v && *c.supply_v > 0.0 && c.channel.volts_said && live)
    take(wrong_volts(c, *due));
  if (c.role != ChannelRole::load) return findings;
  take(never_dead(c, due));
  take(uneven(c));
  // Without a line channel the live load shows the supply, less the drop of a closed contact.
  // A column without a unit is taken for volts: what cannot be volts has to say what it is.
  if ((c.line_channels == 0 && c.channel.volts_said && live) || (c.channel.unit.empty() && live))
    take(wrong_supply(c, share_of_supply(c.profile, c.position, load)));
  return findings;
}

std::optional<ChannelFinding> wrong_unit(const CyclingChannel& channel, ChannelRole role) {
  static constexpr std::array known{"", "V", "mV", "kV", "A", "mA", "W", "kW", "VA"};
  if (std::find(known.begin(), known.end(), channel.unit) != known.end()) return std::nullopt;
  return ChannelFinding{
      channel.name, role, Outcome::undecided, "unit",
      fmt::format("The channel {} is in {}, which tells neither live nor dead: record the {} in volt, "
                  "ampere or watt.",
                  channel.name, channel.unit, to_string(role))};
}

std::vector<ChannelFinding> unseen_loads(const Profile& profile, const std::vector<CyclingChannel>& channels,
                                         const std::vector<ChannelRole>& roles) {
  std::vector<ChannelFinding> findings;
  const auto loads = loads_of(profile);
  if (loads.size() < 2) return findings;
  for (const PoweredLoad* load : loads) {
    bool seen = false;
    for (std::size_t i = 0; i < channels.size(); ++i)
      seen = seen || (roles[i] == ChannelRole::load && load_on(profile, channels[i]) == load);
    if (!seen)
      findings.push_back(
          {load->id, ChannelRole::load, Outcome::undecided, "not-recorded",
           fmt::format("This part has {} loads, and no channel is named {}: nobody saw what that load did. "
                       "Record each under its own name.",
                       loads.size(), load->id)});
  }
  return findings;
}

}  // namespace switchwright::tracing
