// The millivolt-drop check as work at the bench: which contacts, with which current, and what came out for
// each.
#pragma once

#include <string>
#include <vector>

#include "switchwright/judge/contact_drop.hpp"
#include "switchwright/judge/finding.hpp"
#include "switchwright/profile/profile.hpp"

namespace switchwright {

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
