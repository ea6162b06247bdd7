// The fewest contacts. A contact between a and b may be closed at no position where a and b are not joined, and closing it
// at every position where they are changes nothing else: so a contact is a pair of terminals, and the question is which
// pairs. At each position the chosen pairs that are joined there must span every group.
#include <fmt/format.h>

#include <algorithm>
#include <set>

#include "learn/learn_table.hpp"
#include "switchwright/core/text.hpp"

namespace switchwright {

namespace {

struct Candidate {
  std::size_t a, b;
  std::vector<std::size_t> at;  ///< positions where the two are joined
};

/// Which nodes the chosen contacts join, position by position.
class Joints {
 public:
  explicit Joints(const LearnTable& table) {
    for (std::size_t p = 0; p < table.positions.size(); ++p) {
      std::vector<std::size_t> own(table.nodes.size());
      for (std::size_t i = 0; i < own.size(); ++i) own[i] = i;
      group_.push_back(own);
      missing_.push_back(table.nodes.size() - table.groups(p));
    }
  }
  /// Positions at which the contact joins what was apart.
  std::size_t gain(const Candidate& c) const {
    return static_cast<std::size_t>(
        std::count_if(c.at.begin(), c.at.end(), [&](std::size_t p) { return group_[p][c.a] != group_[p][c.b]; }));
  }
  void add(const Candidate& c) {
    for (const std::size_t p : c.at) {
      const std::size_t from = group_[p][c.a];
      const std::size_t to = group_[p][c.b];
      if (from == to) continue;
      std::replace(group_[p].begin(), group_[p].end(), from, to);
      --missing_[p];
    }
  }
  /// At least so many more contacts are needed.
  std::size_t needed() const { return *std::max_element(missing_.begin(), missing_.end()); }

 private:
  std::vector<std::vector<std::size_t>> group_;
  std::vector<std::size_t> missing_;
};

class Search {
 public:
  Search(const LearnTable& table, const std::vector<Candidate>& candidates) : table_(table), candidates_(candidates) {
    greedy();
    descend(0, Joints{table}, {});
  }
  const std::vector<std::size_t>& best() const { return best_; }
  bool proven() const { return steps_ < most_steps; }

 private:
  static constexpr std::size_t most_steps = 300'000;

  bool enough(const std::vector<std::size_t>& chosen) const {
    Joints joints{table_};
    for (const std::size_t i : chosen) joints.add(candidates_[i]);
    return joints.needed() == 0;
  }

  void greedy() {
    Joints joints{table_};
    for (std::size_t i = 0; i < candidates_.size(); ++i) {
      if (joints.gain(candidates_[i]) == 0) continue;
      joints.add(candidates_[i]);
      best_.push_back(i);
    }
    for (std::size_t k = best_.size(); k-- > 0;) {
      auto without = best_;
      without.erase(without.begin() + static_cast<std::ptrdiff_t>(k));
      if (enough(without)) best_ = without;
    }
  }

  void descend(std::size_t next, const Joints& joints, std::vector<std::size_t> chosen) {
    if (++steps_ >= most_steps) return;
    const std::size_t needed = joints.needed();
    if (needed == 0) {
      if (chosen.size() < best_.size()) best_ = chosen;
      return;
    }
    if (chosen.size() + needed >= best_.size() || next == candidates_.size()) return;
    if (joints.gain(candidates_[next]) > 0) {
      Joints with = joints;
      with.add(candidates_[next]);
      chosen.push_back(next);
      descend(next + 1, with, chosen);
      chosen.pop_back();
    }
    descend(next + 1, joints, std::move(chosen));
  }

  const LearnTable& table_;
  const std::vector<Candidate>& candidates_;
  std::vector<std::size_t> best_;
  std::size_t steps_ = 0;
};

std::string pair_text(const LearnTable& table, const Candidate& c) { return table.nodes[c.a] + "-" + table.nodes[c.b]; }

}  // namespace

void learn_contacts(const LearnTable& table, Learned& learned) {
  std::vector<Candidate> candidates;
  for (std::size_t a = 0; a < table.nodes.size(); ++a)
    for (std::size_t b = a + 1; b < table.nodes.size(); ++b) {
      Candidate candidate{a, b, {}};
      for (std::size_t p = 0; p < table.positions.size(); ++p)
        if (table.joined(p, a, b)) candidate.at.push_back(p);
      if (!candidate.at.empty()) candidates.push_back(std::move(candidate));
    }
  std::stable_sort(candidates.begin(), candidates.end(),
                   [](const Candidate& x, const Candidate& y) { return x.at.size() > y.at.size(); });
  const Search search{table, candidates};
  learned.fewest_contacts = search.proven();
  if (!search.proven())
    learned.ambiguities.push_back("The search for the fewest contacts was cut short: fewer may do.");

  const auto& best = search.best();
  for (std::size_t k = 0; k < best.size(); ++k) {
    const Candidate& chosen = candidates[best[k]];
    Contact contact;
    contact.id = pair_text(table, chosen);
    contact.between = {table.nodes[chosen.a], table.nodes[chosen.b]};
    for (const std::size_t p : chosen.at) contact.closed_at.push_back(table.positions[p]);
    if (chosen.at.size() == table.positions.size() && table.positions.size() > 1)
      learned.ambiguities.push_back(
          contact.id +
          " is joined at every position: a link or a fuse (then write never_opens = true), or a contact that was welded "
          "in the part that was learned. No part passes by it before that is said.");
    // Which other pairs would do in its place?
    std::vector<std::string> instead;
    for (std::size_t i = 0; i < candidates.size(); ++i) {
      if (std::find(best.begin(), best.end(), i) != best.end()) continue;
      Joints joints{table};
      for (std::size_t other = 0; other < best.size(); ++other) joints.add(candidates[other == k ? i : best[other]]);
      if (joints.needed() == 0) instead.push_back(pair_text(table, candidates[i]));
    }
    if (!instead.empty())
      learned.ambiguities.push_back(fmt::format("The contact {} may as well be {}: the readings are the same.",
                                                contact.id, fmt::join(instead, " or ")));
    learned.contacts.push_back(std::move(contact));
  }
}

}  // namespace switchwright
