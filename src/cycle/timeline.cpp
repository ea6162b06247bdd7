#include "switchwright/cycle/timeline.hpp"

#include <algorithm>
#include <bit>

namespace switchwright {

namespace {

/// Exponent and the top four bits of the fraction; the first bin holds what is below 2^-44 s.
constexpr int first_exponent = 1023 - 44;

}  // namespace

void Intervals::add(double dt_s) {
  const auto top = static_cast<int>(std::bit_cast<std::uint64_t>(dt_s) >> 48);
  const int bin = std::clamp(top - first_exponent * 16, 0, octaves * 16 - 1);
  bins_[static_cast<std::size_t>(bin)].count += 1;
  bins_[static_cast<std::size_t>(bin)].sum_s += dt_s;
  ++count_;
}

double Intervals::quantile(double p) const {
  if (count_ == 0) return 0.0;
  const auto rank = static_cast<std::uint64_t>(p * static_cast<double>(count_ - 1));
  std::uint64_t seen = 0;
  for (const Bin& bin : bins_)
    if ((seen += bin.count) > rank) return bin.sum_s / static_cast<double>(bin.count);
  return 0.0;
}

double Intervals::gap_over_s() const {
  if (count_ < 4) return 0.0;
  // A little above the product, so that two lost samples of a jittering clock are not a gap one time in two.
  return 1.02 * std::max(3.0 * quantile(0.5), 2.0 * quantile(0.95));
}

}  // namespace switchwright
