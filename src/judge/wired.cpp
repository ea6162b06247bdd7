#include "judge/wired.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "switchwright/profile/wired.hpp"

namespace switchwright {

namespace {

bool holds(const std::vector<std::string>& list, const std::string& item) {
  return std::find(list.begin(), list.end(), item) != list.end();
}

/// Of the two the one that something outside is known to be connected to.
std::string connector_to_pull(const Profile& profile, const Pair& pair) {
  const std::vector<std::string> wired = wired_terminals(profile);
  if (!holds(wired, pair.first()) && holds(wired, pair.second())) return pair.second();
  return profile.is_exposed_metal(pair.first()) ? pair.second() : pair.first();
}

bool rests_on_what_is_outside(const Profile& profile, const Expectation& expected) {
  const Expectation alone = expectation(all_pulled(profile), expected.position, expected.pair);
  return alone.state != expected.state || alone.ohm.max != expected.ohm.max;
}

}  // namespace

void doubt_for_wiring(const Profile& profile, Finding& finding) {
  if (finding.outcome != Outcome::fail || !is_wired(profile)) return;
  const Expectation& expected = finding.expected;
  const bool low = finding.corrected && expected.state != PairState::closed && *finding.corrected < expected.ohm.min;
  const bool outside = expected.state != PairState::closed && rests_on_what_is_outside(profile, expected);
  if (!low && !outside) return;
  finding.outcome = finding.continuity = Outcome::undecided;
  if (finding.sound == Outcome::fail) finding.sound = Outcome::undecided;
  finding.kind.reset();
  finding.severity.reset();
  finding.sentence += fmt::format(
      " The part is still wired, and {} would read so too: pull the connector from {} and read this pair again.",
      low ? "another path outside it" : "a load that is open or a loose connector",
      connector_to_pull(profile, expected.pair));
}

std::vector<std::string> masked_contacts(const Profile& profile, const std::vector<Finding>& findings) {
  std::vector<std::string> clauses;
  if (!is_wired(profile)) return clauses;
  for (const Contact& contact : profile.contacts) {
    const Fault closed{FaultKind::stuck_closed, contact.id, {}, {}};
    const bool seen_apart = std::any_of(findings.begin(), findings.end(), [&](const Finding& f) {
      const Expectation& e = f.expected;
      return !contact.conducts_at(e.position) && f.continuity == Outcome::pass && e.state != PairState::closed &&
             network_of(profile, e.position, {}, {closed}).resistance_ohm(e.pair.first(), e.pair.second()) <
                 e.ohm.min / 2.0;
    });
    if (!seen_apart)
      clauses.push_back(
          fmt::format("{} was never seen apart, so that a path outside may stand in for it", contact.between.text()));
  }
  return clauses;
}

}  // namespace switchwright
