#include "switchwright/judge/closings.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <set>
#include <utility>

#include "switchwright/core/text.hpp"
#include "switchwright/judge/wording.hpp"
#include "switchwright/profile/closings.hpp"

namespace switchwright {

namespace {

using Spot = std::pair<std::string, Pair>;  // position, pair

/// Closed readings of one pair through the same contacts.
struct Closings {
  std::vector<double> ohm;
  Finding* highest = nullptr;
  double digit = 0.0;
  double spread = 0.0;

  void take(Finding& finding, const Indication& indication, double corrected) {
    if (ohm.empty() || corrected > *std::max_element(ohm.begin(), ohm.end())) highest = &finding;
    ohm.push_back(corrected);
    digit = std::max(digit, indication.resolution);
    spread = std::max(spread, indication.spread);
  }
};

int rank(Outcome outcome) { return outcome == Outcome::fail ? 2 : outcome == Outcome::undecided ? 1 : 0; }

}  // namespace

std::vector<PlaceReadings> readings_by_place(const std::vector<Expectation>& expected,
                                             const std::vector<Measured>& measured, std::size_t& unchecked) {
  std::map<Spot, const Expectation*> wanted;
  for (const Expectation& e : expected)
    if (e.state != PairState::not_checked) wanted.emplace(Spot{e.position, e.pair}, &e);
  std::vector<PlaceReadings> places;
  std::map<Spot, std::size_t> index;
  std::map<std::pair<Spot, int>, std::size_t> visit_index;
  unchecked = 0;
  for (const Measured& m : measured) {
    const Spot spot{m.position, m.pair};
    const auto found = wanted.find(spot);
    if (found == wanted.end()) {
      ++unchecked;
      continue;
    }
    const auto [place, is_new] = index.try_emplace(spot, places.size());
    if (is_new) places.push_back({found->second, {}, {}});
    if (m.given_up) {
      places[place->second].replaced.push_back(&m);
      continue;
    }
    auto& visits = places[place->second].visits;
    const auto [visit, first_time] = visit_index.try_emplace({spot, m.visit}, visits.size());
    if (first_time) {
      visits.push_back(&m);
    } else {
      places[place->second].replaced.push_back(visits[visit->second]);
      visits[visit->second] = &m;
    }
  }
  std::erase_if(places, [](const PlaceReadings& place) { return place.visits.empty(); });
  return places;
}

Finding worst_of(const std::vector<Finding>& visits) {
  const auto worse = [](const Finding& a, const Finding& b) {
    if (rank(a.outcome) != rank(b.outcome)) return rank(a.outcome) < rank(b.outcome);
    if (a.corrected.has_value() != b.corrected.has_value()) return a.corrected.has_value();
    return a.corrected &&
           (a.expected.state == PairState::open ? *a.corrected > *b.corrected : *a.corrected < *b.corrected);
  };
  Finding worst = *std::max_element(visits.begin(), visits.end(), worse);
  if (visits.size() < 2) return worst;
  for (const Finding& visit : visits) {
    worst.visits.push_back({visit.indication, visit.corrected, visit.outcome});
    if (rank(visit.continuity) > rank(worst.continuity)) worst.continuity = visit.continuity;
    if (visit.sound && worst.sound && rank(*visit.sound) > rank(*worst.sound)) worst.sound = visit.sound;
  }
  return worst;
}

void judge_scatter(const Profile& profile, const std::vector<Expectation>& expected, std::vector<Finding>& findings,
                   double k) {
  const ClosingCount contacts{profile, expected};
  std::map<std::pair<Pair, std::set<std::string>>, Closings> groups;
  for (Finding& finding : findings) {
    if (finding.expected.state != PairState::closed) continue;
    Closings& group =
        groups[{finding.expected.pair, contacts.shown_by(finding.expected.position, finding.expected.pair)}];
    if (finding.visits.empty() && finding.corrected) group.take(finding, finding.indication, *finding.corrected);
    for (const Visit& visit : finding.visits)
      if (visit.corrected) group.take(finding, visit.indication, *visit.corrected);
  }
  for (const auto& [place, group] : groups) {
    if (group.ohm.size() < 2) continue;
    const auto [least, most] = std::minmax_element(group.ohm.begin(), group.ohm.end());
    // Leads and the meter's own error are the same in both and cancel.
    const double explained =
        2.0 * group.digit + k * std::sqrt(2.0) * std::hypot(probe_contact_ohm / std::sqrt(3.0), group.spread);
    const double allowed = std::max(explained, group.highest->expected.sound_max_ohm.value_or(0.0) / 2.0);
    Finding& finding = *group.highest;
    if (*most - *least <= allowed * (1.0 + 1e-9) || finding.outcome != Outcome::pass || finding.sound == Outcome::fail)
      continue;
    finding.outcome = finding.continuity = Outcome::undecided;
    finding.sentence = fmt::format(
        "{} closes unevenly: {} readings of the closed pair lie between {} and {}, further apart than {}, which meter and "
        "probes explain. Clean the terminals and measure again; a contact that does not close alike each time does not pass.",
        finding.expected.pair.text(), group.ohm.size(), wording::ohm(*least, group.digit),
        wording::ohm(*most, group.digit), wording::two_figures_ohm(allowed));
  }
}

std::vector<std::string> closings_missing(const Profile& profile, const std::vector<Expectation>& expected,
                                          const std::vector<PlaceReadings>& places,
                                          const std::vector<Measured>& measured,
                                          const std::map<std::string, int>& wanted) {
  if (wanted.empty()) return {};
  std::set<const Measured*> standing;
  for (const PlaceReadings& place : places) standing.insert(place.visits.begin(), place.visits.end());
  ClosingCount count{profile, expected};
  for (const Measured& m : measured)
    if (standing.contains(&m)) count.visit(m.position, m.pair);
  std::vector<std::string> missing;
  for (const auto& [contact, times] : wanted) {
    const auto seen = count.seen().find(contact);
    const int seen_times = seen == count.seen().end() ? 0 : seen->second;
    if (seen_times < times)
      missing.push_back(fmt::format("contact {} was seen to close {} of {} times", contact, seen_times, times));
  }
  return missing;
}

}  // namespace switchwright
