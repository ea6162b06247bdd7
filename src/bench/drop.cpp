// Which contacts the millivolt drop is about, and what a drop means as a finding.
#include "switchwright/bench/drop.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/judge/contact_heat.hpp"
#include "switchwright/profile/contact_limits.hpp"
#include "switchwright/profile/expectation.hpp"

namespace switchwright {

std::string drop_words() {
  return "The part is disconnected from the mains and from every appliance. The current comes from an "
         "isolated bench supply of at "
         "most 12 V with its current limit set, switched off while clips are moved; I am trained for this "
         "work. Local codes and "
         "licensed practice come first.";
}

std::vector<const Contact*> drop_contacts(const Profile& profile, const std::string& position) {
  const auto nodes = profile.nodes();
  const auto reached = [&](const std::string& node) {
    return std::find(nodes.begin(), nodes.end(), node) != nodes.end();
  };
  std::vector<const Contact*> contacts;
  for (const Contact& contact : profile.contacts)
    if (contact.conducts_at(position) && reached(contact.between.first()) && reached(contact.between.second()) &&
        std::none_of(contacts.begin(), contacts.end(), [&](const Contact* c) { return c->between == contact.between; }))
      contacts.push_back(&contact);
  return contacts;
}

std::string drop_position(const Profile& profile, const std::string& wanted) {
  std::vector<std::string> known;
  for (const Position& position : profile.positions) known.push_back(position.id);
  if (!wanted.empty() && !profile.position(wanted))
    throw Error(ErrorKind::usage, "no position is called \"" + terminal_safe(wanted) + "\"", "--position",
                suggestion(wanted, known).empty() ? "positions: " + joined_with_and(known) : suggestion(wanted, known));
  std::string best = wanted.empty() ? known.front() : wanted;
  if (wanted.empty())
    for (const std::string& position : known)
      if (drop_contacts(profile, position).size() > drop_contacts(profile, best).size()) best = position;
  if (drop_contacts(profile, best).empty())
    throw Error(ErrorKind::usage, "no contact of " + profile.id + " is closed at " + best + " between two terminals",
                "--position", "choose another position");
  return best;
}

Finding finding_of(const Profile& profile, const ContactDrop& drop, const Indication& indication) {
  Finding finding;
  finding.expected = expectation(profile, drop.position, drop.pair);
  finding.expected.ohm.max = drop.limit_ohm;  // it is the sound limit that decides here
  finding.indication = indication;
  finding.indication.quantity = Quantity::resistance_4_wire;
  finding.indication.value = drop.drop.ohm;
  finding.indication.resolution = indication.resolution / drop.current.amps;
  finding.indication.beyond.reset();
  finding.corrected = drop.drop.ohm;
  finding.U = drop.drop.U_ohm;
  finding.outcome = finding.continuity = drop.drop.outcome;
  finding.sound = drop.drop.outcome;
  finding.sentence = drop.drop.sentence;
  if (drop.drop.state != DropState::seen && drop.drop.state != DropState::open) {
    finding.corrected.reset();  // no resistance was read
    finding.U.reset();
  }
  if (drop.drop.outcome != Outcome::fail) return finding;
  if (drop.drop.state == DropState::open) {
    finding.kind = DeviationKind::stays_open;
    finding.severity = Severity::major;
    return finding;
  }
  finding.kind = DeviationKind::high_resistance;
  finding.severity = Severity::major;
  const Contact* contact = contact_between(profile, drop.pair);
  if (const auto heat = contact ? contact_heat(profile, *contact, drop.drop.ohm) : std::nullopt)
    finding.sentence +=
        fmt::format(" {} that is {:.3g} W in the contact: do not refit.", current_words(*heat), heat->heat_w);
  return finding;
}

}  // namespace switchwright
