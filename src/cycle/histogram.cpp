#include "switchwright/cycle/histogram.hpp"

#include <algorithm>
#include <bit>
#include <cmath>

namespace switchwright {

namespace {

/// The first step is cut this fine; keys must stay well inside 64 bits.
constexpr double finest_share = 0x1p-40;
constexpr double largest_key = 0x1p60;
constexpr std::size_t first_slots = 256;

std::size_t spread(std::int64_t key) {
  return static_cast<std::size_t>((static_cast<std::uint64_t>(key) * 0x9E3779B97F4A7C15ull) >> 32);
}

}  // namespace

AdaptiveHistogram::AdaptiveHistogram(std::size_t max_bins)
    : max_bins_(std::max<std::size_t>(max_bins, 16)),
      mask_(std::min<std::size_t>(first_slots, std::bit_ceil(max_bins_ * 2)) - 1),
      slots_(mask_ + 1) {}

/// Twice the slots, as long as the table has not its full size: most series fill a few hundred bins only.
void AdaptiveHistogram::grow() {
  last_ = nullptr;
  mask_ = 2 * mask_ + 1;
  std::vector<Slot> old(mask_ + 1);
  old.swap(slots_);
  for (const Slot& from : old)
    if (from.used()) find(from.key) = from;
}

AdaptiveHistogram::Slot& AdaptiveHistogram::find(std::int64_t key) {
  std::size_t at = spread(key) & mask_;
  while (slots_[at].used() && slots_[at].key != key) at = (at + 1) & mask_;
  return slots_[at];
}

AdaptiveHistogram::Slot& AdaptiveHistogram::slot_for(double value, bool counted) {
  if (counted) ++total_;
  if (!started_) {
    started_ = true;
    origin_ = value;
  }
  const double distance = value - origin_;
  if (width_ == 0.0 && distance != 0.0) {
    width_ = std::abs(distance) * finest_share;
    per_width_ = 1.0 / width_;
  }
  while (std::abs(distance) * per_width_ > largest_key) coarsen();
  for (;;) {
    const auto key = static_cast<std::int64_t>(std::floor(distance * per_width_));
    if (last_ == nullptr || key != last_key_) {
      Slot& slot = find(key);
      if (!slot.used()) {
        if (used_ == max_bins_) {
          coarsen();
          continue;
        }
        if (2 * used_ > mask_) {
          grow();
          continue;
        }
        ++used_;
        slot.key = key;
      }
      last_ = &slot;
      last_key_ = key;
    }
    if (counted) last_->sum += distance;
    return *last_;
  }
}

void AdaptiveHistogram::coarsen() {
  width_ *= 2.0;
  per_width_ *= 0.5;
  last_ = nullptr;
  std::vector<Slot> old(slots_.size());
  old.swap(slots_);
  used_ = 0;
  for (const Slot& from : old) {
    if (!from.used()) continue;
    Slot& to = find(from.key >> 1);
    if (!to.used()) ++used_;
    to.key = from.key >> 1;
    to.count += from.count;
    to.steady += from.steady;
    to.settled += from.settled;
    to.sum += from.sum;
  }
}

std::vector<AdaptiveHistogram::Bin> AdaptiveHistogram::bins() const {
  std::vector<Bin> sorted;
  sorted.reserve(used_);
  for (const Slot& slot : slots_) {
    if (slot.count == 0) continue;
    sorted.push_back({origin_ + slot.sum / static_cast<double>(slot.count), slot.count, slot.steady, slot.settled});
  }
  std::sort(sorted.begin(), sorted.end(), [](const Bin& a, const Bin& b) { return a.value < b.value; });
  return sorted;
}

std::optional<double> AdaptiveHistogram::quantile(double p) const {
  if (total_ == 0) return std::nullopt;
  const auto sorted = bins();
  // Linear interpolation between order statistics (R's type 7), each known within a bin width.
  const double rank = p * static_cast<double>(total_ - 1);
  const auto at = [&](std::uint64_t index) {
    std::uint64_t seen = 0;
    for (const Bin& bin : sorted)
      if ((seen += bin.count) > index) return bin.value;
    return sorted.back().value;
  };
  const auto below = static_cast<std::uint64_t>(rank);
  const double first = at(below);
  return first + (rank - static_cast<double>(below)) * (at(std::min(below + 1, total_ - 1)) - first);
}

}  // namespace switchwright
