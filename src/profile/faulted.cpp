// What faults make of the network: the one place that turns a fault into resistors.
#include <algorithm>
#include <limits>
#include <stdexcept>

#include "profile/parts.hpp"
#include "switchwright/profile/expectation.hpp"
#include "switchwright/profile/fault.hpp"

namespace switchwright {

namespace {

constexpr double infinity = std::numeric_limits<double>::infinity();

/// Whether turning on from the last position leads to the first: the gap that is left of the full circle is
/// no more than half again the largest gap between neighbours.
bool goes_round(const Profile& profile) {
  if (profile.positions.size() < 2) return false;
  double largest = 0.0;
  for (std::size_t i = 1; i < profile.positions.size(); ++i)
    largest = std::max(largest, profile.positions[i].angle_deg - profile.positions[i - 1].angle_deg);
  const double left = profile.positions.front().angle_deg + 360.0 - profile.positions.back().angle_deg;
  return left > 0.0 && left <= 1.5 * largest;
}

/// The position the part behaves as when the knob points at `position` and sits `steps` too far.
std::string clocked_position(const Profile& profile, const std::string& position, int steps) {
  const int count = static_cast<int>(profile.positions.size());
  int index = 0;
  while (profile.positions[index].id != position) ++index;
  index += steps;
  index = goes_round(profile) ? (index % count + count) % count : std::clamp(index, 0, count - 1);
  return profile.positions[index].id;
}

bool holds(const std::vector<std::string>& names, const std::string& name) {
  return std::find(names.begin(), names.end(), name) != names.end();
}

/// Which contacts conduct: by the cam and the heat, then as ties pull them along, then as they are stuck.
std::vector<char> conducting(const Profile& profile, const std::string& position, const std::vector<Fault>& faults,
                             const std::vector<std::string>& opened) {
  const std::vector<Contact>& contacts = profile.contacts;
  std::vector<char> closed;
  for (const Contact& contact : contacts)
    closed.push_back(contact.conducts_at(position) && !(contact.cycles(position) && holds(opened, contact.id)));
  const auto index_of = [&](const std::string& id) {
    return static_cast<std::size_t>(
        std::find_if(contacts.begin(), contacts.end(), [&](const Contact& each) { return each.id == id; }) -
        contacts.begin());
  };
  for (std::size_t pass = 0; pass < faults.size(); ++pass)  // ties may form a chain
    for (const Fault& fault : faults) {
      if (fault.kind != FaultKind::tied) continue;
      const std::size_t a = index_of(fault.id), b = index_of(fault.other);
      if (a < closed.size() && b < closed.size()) closed[a] = closed[b] = closed[a] | closed[b];
    }
  for (const Fault& fault : faults)
    if (const std::size_t at = index_of(fault.id); at < closed.size()) {
      if (fault.kind == FaultKind::stuck_closed) closed[at] = 1;
      if (fault.kind == FaultKind::stuck_open) closed[at] = 0;
    }
  return closed;
}

double closed_ohm(const Contact& contact, const PartValues& values, const std::vector<Fault>& faults) {
  double ohm = values.closed_contact_ohm;
  for (const Fault& fault : faults)
    if (fault.kind == FaultKind::resistive && fault.id == contact.id) ohm = fault.value.value_or(ohm);
  return ohm;
}

double element_ohm(const Element& element, const std::vector<Fault>& faults, bool conducts) {
  double ohm = conducts ? element.nominal_ohm : infinity;
  for (const Fault& fault : faults) {
    if (fault.id != element.id) continue;
    if (fault.kind == FaultKind::open) ohm = infinity;
    if (fault.kind == FaultKind::shorted) ohm = 0.0;
    if (fault.kind == FaultKind::drifted) ohm *= 1.0 + fault.value.value_or(0.0) / 100.0;
  }
  return ohm;
}

}  // namespace

std::vector<Resistor> profile_parts::faulted_resistors(const Profile& profile, const std::string& position,
                                                       const PartValues& values, const std::vector<Fault>& faults,
                                                       const std::vector<std::string>& opened,
                                                       const std::vector<std::string>& lit) {
  if (!profile.position(position)) throw std::out_of_range("the profile has no position \"" + position + "\"");
  std::string behaves_as = position;
  for (const Fault& fault : faults)
    if (fault.kind == FaultKind::clocked)
      behaves_as = clocked_position(profile, behaves_as, static_cast<int>(fault.value.value_or(0.0)));
  const auto seen_at = [&](std::string node) {  // under which name the probes find a node
    for (const Fault& fault : faults) {
      if (fault.kind != FaultKind::swapped) continue;
      if (node == fault.id)
        node = fault.other;
      else if (node == fault.other)
        node = fault.id;
    }
    return node;
  };
  std::vector<Resistor> resistors;
  const double open_ohm = values.open_contact_ohm >= 1e300 ? infinity : values.open_contact_ohm;
  const std::vector<char> closed = conducting(profile, behaves_as, faults, opened);
  for (std::size_t i = 0; i < profile.contacts.size(); ++i) {
    const Contact& contact = profile.contacts[i];
    resistors.push_back({contact.id, seen_at(contact.between.first()), seen_at(contact.between.second()),
                         closed[i] ? closed_ohm(contact, values, faults) : open_ohm});
  }
  for (const Element& element : profile.elements)
    resistors.push_back({element.id, seen_at(element.between.first()), seen_at(element.between.second()),
                         element_ohm(element, faults, !element.strikes_v || holds(lit, element.id))});
  for (const Fault& fault : faults)
    if (fault.kind == FaultKind::bridged)
      resistors.push_back({to_string(fault), seen_at(fault.id), seen_at(fault.other), values.closed_contact_ohm});
  return resistors;
}

Network network_of(const Profile& profile, const std::string& position, const PartValues& values,
                   const std::vector<Fault>& faults) {
  return Network(profile.network_nodes(), profile_parts::faulted_resistors(profile, position, values, faults));
}

}  // namespace switchwright
