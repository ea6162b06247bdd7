#include "switchwright/judge/soundness.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <limits>

#include "switchwright/core/text.hpp"
#include "switchwright/judge/contact_heat.hpp"
#include "switchwright/judge/wording.hpp"
#include "switchwright/profile/contact_limits.hpp"
#include "switchwright/profile/network.hpp"

namespace switchwright {

namespace {

/// The part at one position with all at its least, but for one contact.
Network least_network(const Profile& profile, const std::string& position, const Contact& but_for, double ohm) {
  std::vector<Resistor> resistors;
  for (const Contact& contact : profile.contacts) {
    const double least = contact.conducts_at(position) ? 0.0 : profile.limits.open_min_ohm;
    resistors.push_back(
        {contact.id, contact.between.first(), contact.between.second(), &contact == &but_for ? ohm : least});
  }
  for (const Element& element : profile.elements)
    resistors.push_back({element.id, element.between.first(), element.between.second(),
                         element.nominal_ohm * (1.0 - element.tolerance_pct / 100.0)});
  return Network(profile.network_nodes(), resistors);
}

/// Looks at one contact at one position.
void look(const Profile& profile, const Contact& contact, const std::string& position,
          const std::vector<Finding>& findings, DecisionRule rule, ContactSoundness& result) {
  const Network at_limit = least_network(profile, position, contact, result.limit_ohm);
  const Network at_zero = least_network(profile, position, contact, 0.0);
  bool proven = false, read = false;
  for (const Finding& finding : findings) {
    if (finding.expected.position != position || !finding.sound || !finding.corrected || !finding.U) continue;
    const Pair& pair = finding.expected.pair;
    const double bound = at_limit.resistance_ohm(pair.first(), pair.second());
    const double without = at_zero.resistance_ohm(pair.first(), pair.second());
    if (!(bound - without > result.limit_ohm / 2.0)) continue;  // this pair does not show the contact
    if (finding.sound == Outcome::fail && contact_between(profile, pair) == &contact) result.decided = Decided::fail;
    read = true;
    result.best_U_ohm = std::min(result.best_U_ohm.value_or(*finding.U), *finding.U);
    const double guard = guard_band(rule, *finding.U);
    // A digit of slack: the elements beside the contact take a millionth off its limit.
    proven |= finding.sound == Outcome::pass && finding.outcome == Outcome::pass &&
              *finding.corrected + guard <= bound * (1.0 + 1e-6);
  }
  if (proven) return;
  (read ? result.undecided_at : result.not_read_at).push_back(position);
}

std::vector<std::string> names_of(const std::vector<ContactSoundness>& contacts) {
  std::vector<std::string> names;
  for (const ContactSoundness& contact : contacts) names.push_back(contact.contact);
  return names;
}

/// "contact line is" or "contacts line and pilot are".
std::string are(const std::vector<ContactSoundness>& contacts) {
  return fmt::format("{} {} {}", contacts.size() == 1 ? "contact" : "contacts", joined_with_and(names_of(contacts)),
                     contacts.size() == 1 ? "is" : "are");
}

/// Why contacts are open: a meter that cannot tell, or nothing read that could.
std::string why_open(const std::vector<ContactSoundness>& open) {
  std::vector<ContactSoundness> unresolved, unread;
  for (const ContactSoundness& contact : open) (contact.undecided_at.empty() ? unread : unresolved).push_back(contact);
  std::vector<std::string> reasons;
  if (!unresolved.empty()) {
    const auto by_limit = [](const ContactSoundness& a, const ContactSoundness& b) {
      return a.limit_ohm < b.limit_ohm;
    };
    const auto by_U = [](const ContactSoundness& a, const ContactSoundness& b) {
      return *a.best_U_ohm < *b.best_U_ohm;
    };
    reasons.push_back(fmt::format(
        "{} not proven sound: U is {} at best and a sound contact has at most {}", are(unresolved),
        wording::two_figures_ohm(*std::min_element(unresolved.begin(), unresolved.end(), by_U)->best_U_ohm),
        wording::two_figures_ohm(std::min_element(unresolved.begin(), unresolved.end(), by_limit)->limit_ohm)));
  }
  if (!unread.empty())
    reasons.push_back(
        fmt::format("{} not read everywhere by a pair that shows {}", are(unread), unread.size() == 1 ? "it" : "them"));
  return joined_with_and(reasons);
}

}  // namespace

std::vector<ContactSoundness> soundness_of(const Profile& profile, const std::vector<Finding>& findings,
                                           DecisionRule rule, const std::string& only_at) {
  std::vector<ContactSoundness> all;
  for (const Contact& contact : profile.contacts) {
    ContactSoundness result{contact.id, sound_max_ohm(profile, contact), Decided::undecided, {}, {}, {}};
    bool conducts = false;
    for (const Position& position : profile.positions) {
      if (!contact.conducts_at(position.id) || (!only_at.empty() && position.id != only_at)) continue;
      conducts = true;
      look(profile, contact, position.id, findings, rule, result);
    }
    if (!conducts) continue;
    if (result.decided != Decided::fail && result.undecided_at.empty() && result.not_read_at.empty())
      result.decided = Decided::pass;
    all.push_back(std::move(result));
  }
  return all;
}

ScopeItem soundness_item(const Profile& profile, const std::vector<Finding>& findings, DecisionRule rule,
                         const std::string& only_at) {
  Scope scope;
  constexpr ScopePart part = ScopePart::soundness;
  std::vector<ContactSoundness> bad, open;
  const std::vector<ContactSoundness> all = soundness_of(profile, findings, rule, only_at);
  for (const ContactSoundness& contact : all)
    if (contact.decided != Decided::pass) (contact.decided == Decided::fail ? bad : open).push_back(contact);
  // A path of several contacts may be proven unsound without telling which of them it is.
  const auto unsound = [](const Finding& finding) { return finding.sound == Outcome::fail; };
  if (!bad.empty())
    scope.fails(part, are(bad) + " not sound");
  else if (std::any_of(findings.begin(), findings.end(), unsound))
    scope.fails(part, "a closed path has a contact that is not sound");
  else if (!open.empty())
    scope.undecided(part, why_open(open));
  else if (!all.empty())
    scope.passes(part, fmt::format("{} sound", all.size() == 1 ? "its contact is"
                                                               : fmt::format("all {} contacts are", all.size())));
  return scope[part];
}

}  // namespace switchwright
