// The list of what could be wrong, read off the network.
#include "switchwright/explain/hypothesis.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <set>

#include "switchwright/core/text.hpp"
#include "explain/predictor.hpp"

namespace switchwright {

namespace {

std::string kind_word(const Cause& cause) {
  const std::string text = to_string(cause);
  return text.substr(0, text.find_first_of(":="));
}

Cause fault(FaultKind kind, std::string id, std::string other = {},
            std::optional<double> value = std::nullopt) {
  Cause cause;
  cause.fault = {kind, std::move(id), std::move(other), value};
  return cause;
}

/// Nodes that a contact or an element joins: a bridge there is that part stuck closed or shorted.
bool joined_by_part(const Profile& profile, const Pair& pair) {
  const auto between = [&](const auto& part) { return part.between == pair; };
  return std::any_of(profile.contacts.begin(), profile.contacts.end(), between) ||
         std::any_of(profile.elements.begin(), profile.elements.end(), between);
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
      if (!element.strikes_v || kind == FaultKind::shorted)  // an ohmmeter finds a lamp that has to strike open either way
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
    if (!joined_by_part(profile, pair))
      causes.push_back(fault(FaultKind::bridged, pair.first(), pair.second()));
  for (std::size_t i = 0; i < profile.contacts.size(); ++i)
    for (std::size_t j = i + 1; j < profile.contacts.size(); ++j)
      if (!move_alike(profile, profile.contacts[i], profile.contacts[j]))
        causes.push_back(fault(FaultKind::tied, profile.contacts[i].id, profile.contacts[j].id));
  return causes;
}

/// Two causes about the same part, or two settings of the same knob, do not stand together.
bool can_stand_together(const Cause& a, const Cause& b) {
  if (a.kind != CauseKind::fault || b.kind != CauseKind::fault) return false;
  const auto on_part = [](const Cause& c) {
    return c.fault.other.empty() && c.fault.kind != FaultKind::clocked;
  };
  if (a.fault.kind == FaultKind::clocked && b.fault.kind == FaultKind::clocked) return false;
  return !(on_part(a) && on_part(b) && a.fault.id == b.fault.id);
}

}  // namespace

std::string to_string(const Cause& cause) {
  return cause.kind == CauseKind::fault ? to_string(cause.fault) : "profile:" + cause.profile;
}

std::string in_words(const Cause& cause) {
  if (cause.kind == CauseKind::other_profile) return "the part is another one: " + cause.profile;
  const Fault& f = cause.fault;
  switch (f.kind) {
    case FaultKind::stuck_closed:
      return fmt::format("contact {} stays closed", f.id);
    case FaultKind::stuck_open:
      return fmt::format("contact {} stays open", f.id);
    case FaultKind::resistive:
      return f.value ? fmt::format("contact {} has {} when closed", f.id, human_ohm(*f.value))
                     : fmt::format("contact {} has too much resistance when closed", f.id);
    case FaultKind::open:
      return fmt::format("element {} is open", f.id);
    case FaultKind::shorted:
      return fmt::format("element {} is shorted", f.id);
    case FaultKind::drifted:
      return f.value ? fmt::format("element {} is off by {:+.3g} %", f.id, *f.value)
                     : fmt::format("element {} is out of its band", f.id);
    case FaultKind::swapped:
      return fmt::format("terminals {} and {} are swapped", f.id, f.other);
    case FaultKind::clocked:
      return fmt::format("the knob sits {:+g} positions off", f.value.value_or(0.0));
    case FaultKind::bridged:
      return fmt::format("{} and {} are joined", f.id, f.other);
    case FaultKind::tied:
      return fmt::format("contacts {} and {} move as one", f.id, f.other);
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
  const std::vector<Cause> causes = single_causes(profile);
  std::vector<double> weight;
  for (const Cause& cause : causes) {
    const auto figure = priors.per_part.find(kind_word(cause));
    weight.push_back(figure == priors.per_part.end() ? 1e-4 : figure->second);
  }
  std::vector<Hypothesis> all;
  all.reserve(1 + causes.size() * (doubles ? causes.size() / 2 + 1 : 1) + others.size());
  all.push_back({{}, priors.good});
  for (std::size_t i = 0; i < causes.size(); ++i) all.push_back({{causes[i]}, weight[i]});
  for (const Profile& other : others) {
    if (other.id == profile.id || !comparable(profile, other)) continue;
    Cause cause;
    cause.kind = CauseKind::other_profile;
    cause.profile = other.id;
    const auto figure = priors.per_part.find("profile");
    all.push_back({{cause}, figure == priors.per_part.end() ? 1e-4 : figure->second});
  }
  if (!doubles) return all;
  for (std::size_t i = 0; i < causes.size(); ++i)
    for (std::size_t j = i + 1; j < causes.size(); ++j)
      if (can_stand_together(causes[i], causes[j]))
        all.push_back({{causes[i], causes[j]}, weight[i] * weight[j]});
  return all;
}

}  // namespace switchwright
