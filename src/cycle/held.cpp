#include "switchwright/cycle/held.hpp"

#include <algorithm>
#include <numeric>

namespace switchwright {

namespace {
constexpr std::uint64_t least_flickers = 20;
constexpr std::uint64_t least_distances = 16;  // on every second sample by chance: one time in 65 thousand
constexpr std::uint64_t least_alike_distances = 4;
constexpr double slowest_update_s = 2.0;  // of a display that people read (common practice, no source)
constexpr double common_update_s = 0.5;   // of most of them (common practice, no source)
constexpr std::uint64_t often = 3;        // asked so often within one update, where nothing else tells
}  // namespace

void HeldDisplay::change(double t_s, bool small) {
  if (small && last_small_ && t_s > last_change_s_) flicker_.add(t_s - last_change_s_);
  last_small_ = small;
  last_change_s_ = t_s;
  if (follows_ && last_index_ > 0) {
    const std::uint64_t distance = index_ - last_index_;
    grid_ = std::gcd(grid_, distance);
    ++distances_;
    for (std::uint64_t& known : different_) {
      if (known == 0) known = distance;
      if (known == distance) break;
    }
  }
  follows_ = true;
  last_index_ = index_;
}

double HeldDisplay::update_s(double interval_s) const {
  if (!(interval_s > 0.0)) return 0.0;
  double update_s = grid_s(interval_s);
  if (flicker_.count() >= least_flickers) {
    const double shortest_s = flicker_.quantile(0.05), usual_s = flicker_.quantile(0.35);
    if (shortest_s > 1.5 * interval_s && usual_s < 1.25 * shortest_s + 0.6 * interval_s)
      update_s = std::max(update_s, usual_s);
  }
  return update_s > 1.2 * interval_s ? update_s : 0.0;
}

double HeldDisplay::grid_s(double interval_s) const {
  const bool differ = different_.back() != 0 && distances_ >= least_distances;
  if (distances_ < least_alike_distances) return 0.0;
  // The coarsest grid that all changes lie on and that a display may have.
  const std::uint64_t least = differ ? 2 : often;
  const double most_s = differ ? slowest_update_s : common_update_s;
  for (auto m = static_cast<std::uint64_t>(most_s / interval_s + 1e-6); m >= least; --m)
    if (grid_ % m == 0) return static_cast<double>(m) * interval_s;
  return 0.0;
}

}  // namespace switchwright
