// The list of what could be wrong, read off the network.
#include "switchwright/explain/hypothesis.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <set>

#include "explain/predictor.hpp"
#include "switchwright/core/text.hpp"

namespace switchwright {

namespace {

Cause fault(FaultKind kind, std::string id, std::string other = {}, std::optional<double> value = std::nullopt) {
  Cause cause;
  cause.fault = {kind, std::move(id), std::move(other), value};
  return cause;
}

/// Nodes that a contact or an element of the part joins: a bridge there is that part stuck closed or shorted.
bool joined_by_part(const Profile& profile, const Pair& pair) {
  return std::any_of(profile.contacts.begin(), profile.contacts.end(),
                     [&](const Contact& contact) { return contact.between == pair; }) ||
         std::any_of(profile.elements.begin(), profile.elements.end(),
                     [&](const Element& element) { return !element.outside && element.between == pair; });
}

bool move_alike(const Profile& profile, const Contact& a, const Contact& b) {
  return std::all_of(profile.positions.begin(), profile.positions.end(),
                     [&](const Position& p) { return a.conducts_at(p.id) == b.conducts_at(p.id); });
}

bool comparable(const Profile& profile, const Profile& other) {
  const std::vector<std::string> mine = profile.nodes(), theirs = other.nodes();
  if (std::set(mine.begin(), mine.end()) != std::set(theirs.begin(), theirs.end())) return false;
  return std::all_of(profile.positions.begin(), profile.positions.end(),
                     [&](const Position& p) { return other.position(p.id) != nullptr; });
}

std::vector<Cause> single_causes(const Profile& profile) {
  std::vector<Cause> causes;
  for (const Contact& contact : profile.contacts)
    for (FaultKind kind : {FaultKind::stuck_closed, FaultKind::stuck_open, FaultKind::resistive})
      causes.push_back(fault(kind, contact.id));
  for (const Element& element : profile.elements)
    for (FaultKind kind : {FaultKind::open, FaultKind::shorted, FaultKind::drifted})
      if (!element.strikes_v ||
          kind == FaultKind::shorted)  // an ohmmeter finds a lamp that has to strike open either way
        causes.push_back(fault(kind, element.id));
  for (std::size_t i = 0; i < profile.terminals.size(); ++i)
    for (std::size_t j = i + 1; j < profile.terminals.size(); ++j)
      causes.push_back(fault(FaultKind::swapped, profile.terminals[i], profile.terminals[j]));
  // On a knob that goes round, one position too far is the same as all but one too near: each setting once.
  // A door, a coil or a set point has no angle that could be wrong: where the file gives none, the reader counts the
  // positions 0, 1, 2, ..., which no knob has for degrees.
  const auto angle_is_given = [&] {
    for (std::size_t i = 0; i < profile.positions.size(); ++i)
      if (profile.positions[i].angle_deg != static_cast<double>(i)) return true;
    return false;
  };
  const int positions = angle_is_given() ? static_cast<int>(profile.positions.size()) : 1;
  std::set<std::vector<std::size_t>> settings{clocked_positions(profile, 0)};
  for (int steps = 1; steps < positions; ++steps)
    for (int sign : {1, -1})
      if (settings.insert(clocked_positions(profile, sign * steps)).second)
        causes.push_back(fault(FaultKind::clocked, {}, {}, static_cast<double>(sign * steps)));
  for (const Pair& pair : profile.pairs())
    if (!joined_by_part(profile, pair)) causes.push_back(fault(FaultKind::bridged, pair.first(), pair.second()));
  for (std::size_t i = 0; i < profile.contacts.size(); ++i)
    for (std::size_t j = i + 1; j < profile.contacts.size(); ++j)
      if (!move_alike(profile, profile.contacts[i], profile.contacts[j]))
        causes.push_back(fault(FaultKind::tied, profile.contacts[i].id, profile.contacts[j].id));
  return causes;
}

/// What a cause is about: a part, a pair, the knob. It is wrong in one way at a time.
std::string thing_of(const Cause& cause) {
  if (cause.kind != CauseKind::fault) return "profile";
  if (cause.fault.kind == FaultKind::clocked) return "knob";
  if (cause.fault.other.empty()) return "part " + cause.fault.id;
  return to_string(cause);
}

/// How often each cause is there, against its thing being in order, where things fail independently of each other. The
/// figures of the file say how one kind stands to another; they are scaled alike until a part of this design is good
/// as often as the file says, however many pairs of terminals it has.
std::vector<double> odds_of(const std::vector<Cause>& causes, const std::vector<double>& chances, double good) {
  std::map<std::string, double> chance_of_thing;
  std::vector<std::string> things;
  for (std::size_t i = 0; i < causes.size(); ++i) {
    things.push_back(thing_of(causes[i]));
    chance_of_thing[things[i]] += chances[i];
  }
  std::vector<double> odds;
  for (std::size_t i = 0; i < causes.size(); ++i)
    odds.push_back(chances[i] / std::max(1.0 - chance_of_thing[things[i]], 0.1));
  std::map<std::string, double> odds_of_thing;
  for (std::size_t i = 0; i < causes.size(); ++i) odds_of_thing[things[i]] += odds[i];
  // Product over all things of 1 / (1 + scale x odds) = good; it falls as the scale grows.
  const double wanted = -std::log(std::clamp(good, 1e-6, 1.0 - 1e-6));
  double low = 0.0, high = 1.0;
  const auto found = [&](double scale) {
    double sum = 0.0;
    for (const auto& [thing, o] : odds_of_thing) sum += std::log1p(scale * o);
    return sum;
  };
  while (found(high) < wanted && high < 1e9) high *= 2.0;
  for (int i = 0; i < 60; ++i) (found((low + high) / 2.0) < wanted ? low : high) = (low + high) / 2.0;
  for (double& o : odds) o *= high;
  return odds;
}

}  // namespace

std::string kind_of(const Cause& cause) {
  const std::string text = to_string(cause);
  return text.substr(0, text.find_first_of(":="));
}

std::string to_string(const Cause& cause) {
  return cause.kind == CauseKind::fault ? to_string(cause.fault) : "profile:" + cause.profile;
}

std::string in_words(const Cause& cause) {
  if (cause.kind == CauseKind::other_profile) return "the part is another one: " + cause.profile;
  const Fault& f = cause.fault;
  switch (f.kind) {
    case FaultKind::stuck_closed: return fmt::format("contact {} stays closed", f.id);
    case FaultKind::stuck_open: return fmt::format("contact {} stays open", f.id);
    case FaultKind::resistive:
      return f.value ? fmt::format("contact {} has {} when closed", f.id, human_ohm(*f.value))
                     : fmt::format("contact {} has too much resistance when closed", f.id);
    case FaultKind::open: return fmt::format("element {} is open", f.id);
    case FaultKind::shorted: return fmt::format("element {} is shorted", f.id);
    case FaultKind::drifted:
      return f.value ? fmt::format("element {} is off by {:+.3g} %", f.id, *f.value)
                     : fmt::format("element {} is out of its band", f.id);
    case FaultKind::swapped: return fmt::format("terminals {} and {} are swapped", f.id, f.other);
    case FaultKind::clocked: return fmt::format("the knob sits {:+g} positions off", f.value.value_or(0.0));
    case FaultKind::bridged: return fmt::format("{} and {} are joined", f.id, f.other);
    case FaultKind::tied: return fmt::format("contacts {} and {} move as one", f.id, f.other);
  }
  return to_string(cause);
}

std::string to_string(const Hypothesis& hypothesis) {
  std::string text;
  for (const Cause& cause : hypothesis.causes) text += (text.empty() ? "" : " + ") + to_string(cause);
  return text.empty() ? "none" : text;
}

std::string in_words(const Hypothesis& hypothesis) {
  if (hypothesis.good()) return "the part is good";
  std::vector<std::string> parts;
  for (const Cause& cause : hypothesis.causes) parts.push_back(in_words(cause));
  return joined_with_and(parts);
}

std::vector<Hypothesis> hypotheses(const Profile& profile, const std::vector<Profile>& others,
                                   const FaultPriors& priors, bool doubles) {
  std::vector<Cause> causes = single_causes(profile);
  const std::size_t faults = causes.size();
  for (const Profile& other : others) {
    if (other.id == profile.id || !comparable(profile, other)) continue;
    Cause cause;
    cause.kind = CauseKind::other_profile;
    cause.profile = other.id;
    causes.push_back(std::move(cause));
  }
  std::vector<double> chances;
  std::vector<std::string> things;
  for (const Cause& cause : causes) {
    const auto figure = priors.per_part.find(kind_of(cause));
    chances.push_back(figure == priors.per_part.end() ? 1e-4 : figure->second);
    things.push_back(thing_of(cause));
  }
  const std::vector<double> odds = odds_of(causes, chances, priors.good);
  std::vector<Hypothesis> all;
  all.reserve(1 + causes.size() * (doubles ? causes.size() / 2 + 1 : 1));
  all.push_back({{}, priors.good});
  for (std::size_t i = 0; i < causes.size(); ++i) all.push_back({{causes[i]}, priors.good * odds[i]});
  if (!doubles) return all;
  for (std::size_t i = 0; i < faults; ++i)
    for (std::size_t j = i + 1; j < faults; ++j)
      if (things[i] != things[j]) all.push_back({{causes[i], causes[j]}, priors.good * odds[i] * odds[j]});
  return all;
}

}  // namespace switchwright
