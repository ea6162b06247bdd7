#include "explain/predictor.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numeric>
#include <stdexcept>

#include "switchwright/profile/contact_limits.hpp"
#include "switchwright/profile/expectation.hpp"
#include "switchwright/profile/network.hpp"

namespace switchwright {

// The profile room knows whether the knob goes round; it is asked with a part that has one contact per
// position.
std::vector<std::size_t> clocked_positions(const Profile& profile, int steps) {
  Profile marked;
  marked.positions = profile.positions;
  marked.terminals = {"common"};
  for (const Position& p : profile.positions) {
    marked.terminals.push_back("at " + p.id);
    marked.contacts.push_back({"at " + p.id, {"common", "at " + p.id}, {p.id}, {}});
  }
  std::vector<std::size_t> behaves;
  for (const Position& shown : profile.positions) {
    const Network network =
        network_of(marked, shown.id, {}, {{FaultKind::clocked, {}, {}, static_cast<double>(steps)}});
    std::size_t index = 0;
    for (const Position& p : profile.positions) {
      if (network.resistance_ohm("common", "at " + p.id) < std::numeric_limits<double>::infinity()) break;
      ++index;
    }
    behaves.push_back(index);
  }
  return behaves;
}

double most_sound_ohm(const Profile& profile, const Contact& contact) {
  return std::max(sound_max_ohm(profile, contact), 1e-6);  // a contact of nothing at all has no spread to reason with
}

double usual_ohm(double most_ohm) { return std::min(most_ohm, most_joint_ohm) / 2.0; }

Predictor::Predictor(const Profile& profile) : profile_(&profile), most_joint_ohm_(most_joint_ohm) {
  for (const std::string& name : profile.network_nodes()) nodes_.emplace(name, nodes_.size());
  for (const Contact& contact : profile.contacts) {
    ContactPart part{node_index(contact.between.first()),
                     node_index(contact.between.second()),
                     most_sound_ohm(profile, contact),
                     {}};
    for (const Position& p : profile.positions) part.conducts.push_back(contact.conducts_at(p.id) ? 1 : 0);
    contacts_.push_back(std::move(part));
  }
  for (const Element& element : profile.elements)
    elements_.emplace_back(node_index(element.between.first()), node_index(element.between.second()));
  const int count = static_cast<int>(profile.positions.size());
  for (int steps = 1 - count; steps < count; ++steps)
    if (steps != 0) clocked_.emplace(steps, clocked_positions(profile, steps));
}

Predictor::Predictor(const Profile& profile, double closed_ohm) : Predictor(profile) {
  most_joint_ohm_ = 2.0 * closed_ohm;
  for (ContactPart& contact : contacts_) contact.most_ohm = 2.0 * closed_ohm;
}

std::size_t Predictor::position_index(const std::string& id) const {
  for (std::size_t i = 0; i < profile_->positions.size(); ++i)
    if (profile_->positions[i].id == id) return i;
  throw std::out_of_range("the profile has no position \"" + id + "\"");
}

std::size_t Predictor::node_index(const std::string& name) const {
  const auto found = nodes_.find(name);
  if (found == nodes_.end()) throw std::out_of_range("the profile has no terminal \"" + name + "\"");
  return found->second;
}

/// What the causes change, before any network is put together.
struct Predictor::Changes {
  std::vector<std::size_t> at;     ///< position as shown -> position as behaved
  std::vector<signed char> stuck;  ///< per contact: 1 closed, -1 open, 0 by its table
  std::vector<std::pair<std::size_t, std::size_t>> tied;
  std::vector<const Fault*> element;  ///< per element: what is wrong with it
};

namespace {

Unknown resistive_contact(const Fault& fault, std::size_t part, std::size_t from, std::size_t to, double least_ohm,
                          double most_ohm) {
  Unknown u{Unknown::Kind::resistive_contact, part, from, to, least_ohm, most_ohm};
  // Where the readings say nothing: the middle of what is possible, on a logarithmic scale.
  u.nominal_ohm = fault.value.value_or(std::sqrt(u.least_ohm * u.most_ohm));
  if (fault.value) u.least_ohm = u.most_ohm = *fault.value;
  return u;
}

Unknown element_value(const Element& element, const Fault* drift, std::size_t part, std::size_t from, std::size_t to) {
  const double tolerance = element.tolerance_pct / 100.0;
  const double least = element.nominal_ohm * (1.0 - tolerance), most = element.nominal_ohm * (1.0 + tolerance);
  if (!drift) return {Unknown::Kind::intact_element, part, from, to, least, most, element.nominal_ohm};
  Unknown u{Unknown::Kind::drifted_element,
            part,
            from,
            to,
            element.nominal_ohm / 100.0,
            element.nominal_ohm * 100.0,
            element.nominal_ohm * (1.0 + 2.0 * tolerance),
            least,
            most};
  if (drift->value) u.least_ohm = u.most_ohm = u.nominal_ohm = element.nominal_ohm * (1.0 + *drift->value / 100.0);
  return u;
}

}  // namespace

double Unknown::allowed(double ohm) const {
  if (known()) return nominal_ohm;
  ohm = std::clamp(ohm, least_ohm, most_ohm);
  if (ohm > not_from_ohm && ohm < not_to_ohm) ohm = ohm - not_from_ohm < not_to_ohm - ohm ? not_from_ohm : not_to_ohm;
  return ohm;
}

std::vector<Ohms> Scenario::solved(const std::vector<double>& values, std::size_t leave_out) const {
  std::vector<Ohms> all;
  all.reserve(networks.size());
  for (const FixedNetwork& fixed : networks) {
    all.push_back(fixed.ohms);
    for (std::size_t u = 0; u < unknowns.size(); ++u)
      if (u != leave_out && fixed.unknown_there[u]) all.back().add(unknowns[u].from, unknowns[u].to, values[u]);
  }
  return all;
}

Scenario Predictor::scenario(const std::vector<Cause>& causes) const {
  Scenario s;
  Changes changes;
  changes.at.resize(positions());
  std::iota(changes.at.begin(), changes.at.end(), std::size_t{0});
  s.node.resize(nodes_.size());
  std::iota(s.node.begin(), s.node.end(), std::size_t{0});
  changes.stuck.assign(contacts_.size(), 0);
  changes.element.assign(elements_.size(), nullptr);

  const auto index_of = [](const auto& parts, const std::string& id) {
    for (std::size_t i = 0; i < parts.size(); ++i)
      if (parts[i].id == id) return i;
    throw std::out_of_range("the profile has no part \"" + id + "\"");
  };
  const auto contact = [&](const std::string& id) { return index_of(profile_->contacts, id); };
  for (const Cause& cause : causes) {
    const Fault& fault = cause.fault;
    if (cause.kind == CauseKind::other_profile) continue;
    switch (fault.kind) {
      case FaultKind::stuck_closed: changes.stuck[contact(fault.id)] = 1; break;
      case FaultKind::stuck_open: changes.stuck[contact(fault.id)] = -1; break;
      case FaultKind::resistive: {
        const std::size_t i = contact(fault.id);
        s.unknowns.push_back(resistive_contact(fault, i, contacts_[i].from, contacts_[i].to, contacts_[i].most_ohm,
                                               profile_->limits.open_min_ohm));
        break;
      }
      case FaultKind::open:
      case FaultKind::shorted:
      case FaultKind::drifted: changes.element[index_of(profile_->elements, fault.id)] = &fault; break;
      // What belongs at one terminal is found at the other.
      case FaultKind::swapped: std::swap(s.node[node_index(fault.id)], s.node[node_index(fault.other)]); break;
      case FaultKind::clocked: changes.at = clocked_.at(static_cast<int>(fault.value.value_or(0.0))); break;
      case FaultKind::bridged: s.unknowns.push_back(joint(node_index(fault.id), node_index(fault.other))); break;
      case FaultKind::tied: changes.tied.emplace_back(contact(fault.id), contact(fault.other)); break;
    }
  }
  for (std::size_t i = 0; i < elements_.size(); ++i) {
    const Fault* wrong = changes.element[i];
    const auto [from, to] = elements_[i];
    if (wrong && wrong->kind == FaultKind::open) continue;
    if (wrong && wrong->kind == FaultKind::shorted)
      s.unknowns.push_back(joint(from, to));
    else if (!profile_->elements[i].strikes_v)  // an ohmmeter does not light a lamp that has to strike
      s.unknowns.push_back(element_value(profile_->elements[i], wrong, i, from, to));
  }

  std::vector<std::string> masks;
  for (std::size_t shown = 0; shown < positions(); ++shown) {
    std::string mask = conducting(changes, changes.at[shown]);
    const auto same = std::find(masks.begin(), masks.end(), mask);
    s.network_at.push_back(static_cast<std::size_t>(same - masks.begin()));
    if (same != masks.end()) continue;
    masks.push_back(mask);
    std::vector<char> there(s.unknowns.size(), 1);
    for (std::size_t u = 0; u < s.unknowns.size(); ++u)
      if (s.unknowns[u].kind == Unknown::Kind::resistive_contact) {
        char& bit = mask[s.unknowns[u].part];
        there[u] = bit == '1';
        bit = '0';
      }
    s.networks.push_back({mask, contacts_only(mask, Level::usual), std::move(there)});
  }
  return s;
}

Unknown Predictor::joint(std::size_t from, std::size_t to) const {
  return {Unknown::Kind::joint, 0, from, to, 0.0, most_joint_ohm_, most_joint_ohm_ / 2.0};
}

/// One character per contact: '1' where it conducts.
std::string Predictor::conducting(const Changes& changes, std::size_t position) const {
  std::string mask(contacts_.size(), '0');
  for (std::size_t i = 0; i < contacts_.size(); ++i)
    if (contacts_[i].conducts[position]) mask[i] = '1';
  for (std::size_t pass = 0; pass < changes.tied.size(); ++pass)  // ties may form a chain
    for (const auto& [a, b] : changes.tied)
      if (mask[a] == '1' || mask[b] == '1') mask[a] = mask[b] = '1';
  for (std::size_t i = 0; i < contacts_.size(); ++i)
    if (changes.stuck[i] != 0) mask[i] = changes.stuck[i] > 0 ? '1' : '0';
  return mask;
}

const Ohms& Predictor::contacts_only(const std::string& mask, Level level) const {
  auto& solved = solved_[static_cast<std::size_t>(level)];
  const auto known = solved.find(mask);
  if (known != solved.end()) return known->second;
  Ohms ohms(nodes_.size());
  for (std::size_t i = 0; i < contacts_.size(); ++i)
    if (mask[i] == '1') {
      const double most = contacts_[i].most_ohm;
      ohms.add(contacts_[i].from, contacts_[i].to,
               level == Level::least  ? 0.0
               : level == Level::most ? most
                                      : usual_ohm(most));
    }
  return solved.emplace(mask, std::move(ohms)).first->second;
}

}  // namespace switchwright
