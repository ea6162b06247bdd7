// Branch and bound. Each branch takes the element that the fewest sets cover and tries each of those sets,
// largest gain first. Bound: elements no two of which share a set need a set each. Sets that lie within
// another set never help.
#include "switchwright/explain/set_cover.hpp"

#include <algorithm>
#include <bit>
#include <cstdint>

namespace switchwright {

namespace {

class Bits {
 public:
  explicit Bits(std::size_t size) : words_((size + 63) / 64, 0) {}
  void set(std::size_t i) { words_[i / 64] |= std::uint64_t{1} << (i % 64); }
  bool test(std::size_t i) const { return words_[i / 64] >> (i % 64) & 1; }
  bool none() const {
    return std::all_of(words_.begin(), words_.end(), [](std::uint64_t w) { return w == 0; });
  }
  std::size_t common(const Bits& other) const {
    std::size_t count = 0;
    for (std::size_t i = 0; i < words_.size(); ++i)
      count += static_cast<std::size_t>(std::popcount(words_[i] & other.words_[i]));
    return count;
  }
  bool within(const Bits& other) const {
    for (std::size_t i = 0; i < words_.size(); ++i)
      if (words_[i] & ~other.words_[i]) return false;
    return true;
  }
  void remove(const Bits& other) {
    for (std::size_t i = 0; i < words_.size(); ++i) words_[i] &= ~other.words_[i];
  }
  friend bool operator==(const Bits&, const Bits&) = default;

 private:
  std::vector<std::uint64_t> words_;
};

class Search {
 public:
  Search(std::size_t elements, const std::vector<std::vector<std::size_t>>& sets, std::size_t most_steps)
      : elements_(elements), covered_by_(elements), steps_left_(most_steps) {
    for (const auto& set : sets) {
      sets_.emplace_back(elements);
      for (std::size_t element : set) sets_.back().set(element);
    }
    for (std::size_t i = 0; i < sets_.size(); ++i) {
      bool useless = sets_[i].none();
      for (std::size_t j = 0; j < sets_.size() && !useless; ++j)
        useless = j != i && sets_[i].within(sets_[j]) && (j < i || !(sets_[i] == sets_[j]));
      if (useless) continue;
      for (std::size_t element = 0; element < elements; ++element)
        if (sets_[i].test(element)) covered_by_[element].push_back(i);
    }
  }

  Cover run() {
    Bits open(elements_);
    for (std::size_t element = 0; element < elements_; ++element)
      if (!covered_by_[element].empty()) open.set(element);
    greedy(open);
    branch(open);
    std::sort(best_.begin(), best_.end());
    return {best_, steps_left_ > 0};
  }

 private:
  void greedy(Bits open) {
    while (!open.none()) {
      std::size_t best = 0, gain = 0;
      for (std::size_t i = 0; i < sets_.size(); ++i)
        if (const std::size_t g = sets_[i].common(open); g > gain) best = i, gain = g;
      best_.push_back(best);
      open.remove(sets_[best]);
    }
  }

  /// Elements no two of which share a set, fewest sets first: each needs a set of its own.
  std::size_t least_needed(const Bits& open) const {
    std::vector<char> taken(sets_.size(), 0);
    std::size_t count = 0;
    for (std::size_t element = 0; element < elements_; ++element) {
      if (!open.test(element)) continue;
      const auto& by = covered_by_[element];
      if (std::any_of(by.begin(), by.end(), [&](std::size_t i) { return taken[i] != 0; })) continue;
      for (std::size_t i : by) taken[i] = 1;
      ++count;
    }
    return count;
  }

  void branch(const Bits& open) {
    if (steps_left_ == 0) return;
    --steps_left_;
    if (open.none()) {
      if (chosen_.size() < best_.size()) best_ = chosen_;
      return;
    }
    if (chosen_.size() + least_needed(open) >= best_.size()) return;
    std::size_t hardest = elements_;
    for (std::size_t element = 0; element < elements_; ++element)
      if (open.test(element) && (hardest == elements_ || covered_by_[element].size() < covered_by_[hardest].size()))
        hardest = element;
    std::vector<std::size_t> tries = covered_by_[hardest];
    std::stable_sort(tries.begin(), tries.end(),
                     [&](std::size_t x, std::size_t y) { return sets_[x].common(open) > sets_[y].common(open); });
    for (std::size_t i : tries) {
      Bits rest = open;
      rest.remove(sets_[i]);
      chosen_.push_back(i);
      branch(rest);
      chosen_.pop_back();
    }
  }

  std::size_t elements_;
  std::vector<Bits> sets_;
  std::vector<std::vector<std::size_t>> covered_by_;
  std::vector<std::size_t> chosen_, best_;
  std::size_t steps_left_;
};

}  // namespace

Cover smallest_cover(std::size_t elements, const std::vector<std::vector<std::size_t>>& sets, std::size_t most_steps) {
  return Search(elements, sets, most_steps).run();
}

}  // namespace switchwright
