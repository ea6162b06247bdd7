// The millivolt-drop check as work at the bench: which contacts, with which current, and what came out for
// each.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "switchwright/core/pair.hpp"
#include "switchwright/judge/drop.hpp"
#include "switchwright/judge/finding.hpp"
#include "switchwright/profile/profile.hpp"

namespace switchwright {

struct DropTask {
  KnownCurrent current;
  std::string position;  ///< where the contacts are closed
  /// Each contact also with the current the other way round: a thermal voltage that comes with the current is seen.
  bool reversed = false;
};

/// One contact's drop, judged against what a sound contact has at most.
struct ContactDrop {
  std::string contact;
  std::string position;
  Pair pair;
  KnownCurrent current;
  double limit_ohm = 0.0;
  std::optional<double> shown_a;       ///< what the display of the supply, or an ammeter in series, showed
  std::optional<double> shown_free_a;  ///< what it showed with one clip hanging free
  double rated_a = 0.0;                ///< what this contact is made to carry
  double heat_w = 0.0;                 ///< in the contact, when it carries that (judge/contact_heat.hpp)
  Drop drop;
};
/// One JSON object on one line, type "drop": for --json and for the record.
std::string to_json(const ContactDrop& drop);

/// The position where most contacts conduct, the first of them; or the one wanted. @throws Error(usage) when
/// there is none of that name, or no contact between two terminals conducts there.
std::string drop_position(const Profile& profile, const std::string& wanted);
/// The contacts that can be measured there: they conduct, and probes reach both ends.
std::vector<const Contact*> drop_contacts(const Profile& profile, const std::string& position);
/// The drop as a finding about the pair, which is what a verdict and `fit` are made from. The resistance is
/// that of a voltmeter and an ammeter: no lead is in it.
Finding finding_of(const Profile& profile, const ContactDrop& drop, const Indication& indication);

/// The words that are acknowledged before a current is sent through a part.
std::string drop_words();

}  // namespace switchwright
