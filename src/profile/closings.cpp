#include "switchwright/profile/closings.hpp"

#include <algorithm>
#include <optional>

#include "switchwright/profile/expectation.hpp"

namespace switchwright {

namespace {

/// A closed path of these contacts stays far below what any element has; without one of its contacts it does not.
constexpr double ideal_contact_ohm = 1e-9;
constexpr double ideal_path_max_ohm = 1e-6;
/// Every further reading costs a moment of settling beside the moves: of two equal ways the one with fewer readings.
constexpr double reading_s = 1.0;

using Visit = std::pair<Pair, std::string>;  // pair, position

int index_of(const Profile& profile, const std::string& position) {
  for (std::size_t i = 0; i < profile.positions.size(); ++i)
    if (profile.positions[i].id == position) return static_cast<int>(i);
  return -1;
}

std::vector<Visit> visits_of(const std::vector<Placement>& route) {
  std::vector<Visit> visits;
  for (const Placement& placement : route)
    for (const std::string& position : placement.positions) visits.emplace_back(placement.pair, position);
  return visits;
}

std::vector<Placement> placements_of(const std::vector<Visit>& visits, const std::vector<Placement>& route) {
  std::map<Pair, bool> open_everywhere;
  for (const Placement& placement : route) open_everywhere[placement.pair] = placement.open_everywhere;
  std::vector<Placement> placements;
  for (const auto& [pair, position] : visits) {
    if (placements.empty() || !(placements.back().pair == pair))
      placements.push_back({pair, {}, open_everywhere[pair]});
    placements.back().positions.push_back(position);
  }
  return placements;
}

/// Looks for the insertion that shows most missing closings for its cost.
class Extension {
 public:
  Extension(const Profile& profile, const std::vector<Expectation>& expected, const RouteCost& cost,
            const ClosingCount& shown)
      : profile_(profile), cost_(cost), shown_(shown) {
    for (const Expectation& e : expected)
      if (e.state == PairState::closed) pairs_at_[e.position].insert(e.pair);
  }

  /// False when nothing that is missing can be shown.
  bool improve(std::vector<Visit>& visits, const std::set<std::string>& missing) const {
    double best_gain = 0.0;
    std::optional<std::vector<Visit>> best;
    for (std::size_t i = 0; i + 1 < visits.size(); ++i) {
      if (visits[i].second == visits[i + 1].second) continue;
      if (cost_.stays_on_pair && !(visits[i].first == visits[i + 1].first)) continue;
      for (const bool closes : {true, false}) {
        std::size_t gained = 0;
        const auto inserted = insertion(visits[i], visits[i + 1], closes, missing, gained);
        if (gained == 0) continue;
        std::vector<Visit> tried = visits;
        tried.insert(tried.begin() + static_cast<std::ptrdiff_t>(i) + 1, inserted.begin(), inserted.end());
        const double seconds = seconds_of(tried) - seconds_of(visits) + reading_s * double(inserted.size());
        if (const double gain = double(gained) / std::max(seconds, 1e-6); gain > best_gain + 1e-12) {
          best_gain = gain;
          best = std::move(tried);
        }
      }
    }
    if (best) visits = std::move(*best);
    return best.has_value();
  }

 private:
  double seconds_of(const std::vector<Visit>& visits) const {
    return route_cost_s(profile_, placements_of(visits, {}), cost_);
  }

  bool conducts(const std::string& contact, const std::string& position) const {
    for (const Contact& c : profile_.contacts)
      if (c.id == contact) return c.conducts_at(position);
    return false;
  }

  /// Between two readings the knob turns from `from` to `to`. What turns it back and on again once more, with the pairs
  /// on which the contacts that this closes are read; those that the knob closes (`closes`) or opens on this step.
  std::vector<Visit> insertion(const Visit& from, const Visit& to, bool closes, const std::set<std::string>& missing,
                               std::size_t& gained) const {
    const std::string& closed_at = closes ? to.second : from.second;
    const std::string& open_at = closes ? from.second : to.second;
    std::set<std::string> left;
    for (const std::string& contact : missing)
      if (conducts(contact, closed_at) && !conducts(contact, open_at)) left.insert(contact);
    std::vector<Visit> inserted;
    if (!closes) inserted.push_back(to);
    const auto read = [&](const Pair& pair) {
      std::size_t shown = 0;
      for (const std::string& contact : shown_.shown_by(closed_at, pair)) shown += left.erase(contact);
      if (shown > 0) inserted.emplace_back(pair, closed_at);
      gained += shown;
    };
    // The probes are there already.
    read(closes && cost_.stays_on_pair ? from.first : closes ? to.first : from.first);
    if (!cost_.stays_on_pair)
      if (const auto here = pairs_at_.find(closed_at); here != pairs_at_.end())
        for (const Pair& pair : here->second) read(pair);
    if (closes) inserted.push_back(from);
    return inserted;
  }

  const Profile& profile_;
  const RouteCost& cost_;
  const ClosingCount& shown_;
  std::map<std::string, std::set<Pair>> pairs_at_;  ///< closed pairs that are checked, by position
};

}  // namespace

ClosingCount::ClosingCount(const Profile& profile, const std::vector<Expectation>& expected) : profile_(profile) {
  const PartValues ideal{ideal_contact_ohm};
  for (const Expectation& e : expected) {
    if (e.state != PairState::closed) continue;
    auto& contacts = shown_by_[{e.position, e.pair}];
    for (const Contact& contact : profile.contacts) {
      if (!contact.conducts_at(e.position)) continue;
      const Network without = network_of(profile, e.position, ideal, {{FaultKind::stuck_open, contact.id, {}, {}}});
      if (without.resistance_ohm(e.pair.first(), e.pair.second()) <= ideal_path_max_ohm) continue;
      contacts.insert(contact.id);
      seen_.emplace(contact.id, 0);
    }
  }
}

const std::set<std::string>& ClosingCount::shown_by(const std::string& position, const Pair& pair) const {
  static const std::set<std::string> none;
  const auto found = shown_by_.find({position, pair});
  return found == shown_by_.end() ? none : found->second;
}

void ClosingCount::visit(const std::string& position, const Pair& pair) {
  const int to = index_of(profile_, position);
  if (to < 0) return;
  const auto pass = [&](int index) {
    const std::string& at = profile_.positions[static_cast<std::size_t>(index)].id;
    for (const Contact& contact : profile_.contacts) {
      bool& was_open = was_open_.try_emplace(contact.id, true).first->second;
      const bool conducts = contact.conducts_at(at);
      if (conducts && was_open) ++closing_[contact.id];
      was_open = !conducts;
    }
  };
  if (knob_ < 0) pass(to);
  while (knob_ >= 0 && knob_ != to) pass(knob_ += knob_ < to ? 1 : -1);
  knob_ = to;
  for (const std::string& contact : shown_by(position, pair)) {
    int& last = last_seen_[contact];
    if (last == closing_[contact]) continue;
    last = closing_[contact];
    ++seen_[contact];
  }
}

std::map<std::string, int> closings_in(const Profile& profile, const std::vector<Expectation>& expected,
                                       const std::vector<Placement>& route) {
  ClosingCount count{profile, expected};
  for (const auto& [pair, position] : visits_of(route)) count.visit(position, pair);
  return count.seen();
}

std::vector<Placement> with_closings(const Profile& profile, const std::vector<Expectation>& expected,
                                     const std::vector<Placement>& route, const RouteCost& cost, int wanted) {
  const ClosingCount shown{profile, expected};
  const Extension extension{profile, expected, cost, shown};
  std::vector<Visit> visits = visits_of(route);
  for (;;) {
    ClosingCount count = shown;
    for (const auto& [pair, position] : visits) count.visit(position, pair);
    std::set<std::string> missing;
    for (const auto& [contact, seen] : count.seen())
      if (seen < wanted) missing.insert(contact);
    if (missing.empty() || !extension.improve(visits, missing)) break;
  }
  return placements_of(visits, route);
}

}  // namespace switchwright
