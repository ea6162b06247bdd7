#include "judge/ruled_out.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <map>

#include "switchwright/core/text.hpp"
#include "switchwright/profile/fault.hpp"
#include "switchwright/profile/network.hpp"
#include "switchwright/profile/wired.hpp"

namespace switchwright {

namespace {

/// A reading would have to lie this much outside its limits.
constexpr double clearly = 1.05;

/// At its tolerance that hides the fault best.
Profile with_elements_at(Profile profile, double sign) {
  for (Element& element : profile.elements) element.nominal_ohm *= 1.0 + sign * element.tolerance_pct / 100.0;
  return profile;
}

class Readings {
 public:
  explicit Readings(const std::vector<Finding>& findings) {
    for (const Finding& finding : findings)
      if (finding.continuity == Outcome::pass && finding.expected.state != PairState::not_checked)
        passed_[finding.expected.position].push_back(&finding.expected);
  }

  /// @param raises a contact or element that is open adds resistance, one that is closed takes some away
  bool rule_out(const Profile& profile, const Fault& fault, bool raises) const {
    return std::any_of(passed_.begin(), passed_.end(), [&](const auto& at) {
      const Network faulted = network_of(profile, at.first, {}, {fault});
      return std::any_of(at.second.begin(), at.second.end(), [&](const Expectation* e) {
        const double ohm = faulted.resistance_ohm(e->pair.first(), e->pair.second());
        return raises ? ohm > e->ohm.max * clearly : ohm < e->ohm.min / clearly;
      });
    });
  }

 private:
  std::map<std::string, std::vector<const Expectation*>> passed_;
};

bool conducts_everywhere(const Profile& profile, const Contact& contact) {
  return std::all_of(profile.positions.begin(), profile.positions.end(),
                     [&](const Position& position) { return contact.conducts_at(position.id); });
}

}  // namespace

std::vector<std::string> not_ruled_out(const Profile& profile, const std::vector<Finding>& findings) {
  if (is_wired(profile)) return {};
  const Readings readings(findings);
  const Profile least = with_elements_at(profile, -1.0), most = with_elements_at(profile, 1.0);
  std::vector<std::string> open, closed;
  for (const Contact& contact : profile.contacts) {
    if (!readings.rule_out(least, {FaultKind::stuck_open, contact.id, {}, {}}, true))
      open.push_back("contact " + contact.id);
    const bool made_to_stay =
        contact.never_opens || (profile.positions.size() == 1 && conducts_everywhere(profile, contact));
    if (!made_to_stay && !readings.rule_out(most, {FaultKind::stuck_closed, contact.id, {}, {}}, false))
      closed.push_back("contact " + contact.id);
  }
  for (const Element& element : profile.elements) {
    if (element.strikes_v) continue;  // reads open, whatever it is
    if (!readings.rule_out(least, {FaultKind::open, element.id, {}, {}}, true)) open.push_back(element.id);
    if (!readings.rule_out(most, {FaultKind::shorted, element.id, {}, {}}, false)) closed.push_back(element.id);
  }
  std::vector<std::string> clauses;
  if (!open.empty())
    clauses.push_back(fmt::format("no reading would show it if {} stayed open", joined_with_and(open)));
  if (!closed.empty())
    clauses.push_back(fmt::format("no reading would show it if {} stayed closed", joined_with_and(closed)));
  return clauses;
}

}  // namespace switchwright
