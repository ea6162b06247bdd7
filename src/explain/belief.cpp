#include "explain/belief.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace switchwright {

namespace {

const double root_two_pi = std::sqrt(2.0 * std::numbers::pi);

double density(double z) { return std::exp(-0.5 * z * z) / root_two_pi; }

/// Standard normal probability between two z; the tail is taken on the side where it is small, so that nothing cancels.
double between(double from, double to) {
  if (from > 0.0) return between(-to, -from);
  return 0.5 * (std::erfc(-to / std::numbers::sqrt2) - std::erfc(-from / std::numbers::sqrt2));
}

}  // namespace

Belief::Belief(std::size_t values)
    : mean_(values, 0.0), covariance_(values * values, 0.0), first_mean_(values, 0.0), first_variance_(values, 0.0) {}

void Belief::begin(std::size_t value, double mean, double variance) {
  mean_[value] = first_mean_[value] = mean;
  for (std::size_t other = 0; other < size(); ++other)
    covariance_[value * size() + other] = covariance_[other * size() + value] = 0.0;
  covariance_[value * size() + value] = first_variance_[value] = variance;
}

bool Belief::narrowed(std::size_t value) const { return variance(value) < first_variance_[value] * (1.0 - 1e-6); }

double Belief::variance_of(const std::vector<Slope>& slopes) const {
  double variance = 0.0;
  for (const Slope& x : slopes)
    for (const Slope& y : slopes) variance += x.by * y.by * covariance_[x.value * size() + y.value];
  return std::max(variance, 0.0);
}

void Belief::absorb(const std::vector<Slope>& slopes, double innovation, double own_variance) {
  const std::size_t n = size();
  gain_.assign(n, 0.0);
  for (const Slope& slope : slopes)
    for (std::size_t i = 0; i < n; ++i) gain_[i] += slope.by * covariance_[slope.value * n + i];
  double variance = own_variance;
  for (const Slope& slope : slopes) variance += slope.by * gain_[slope.value];
  for (std::size_t i = 0; i < n; ++i) {
    if (gain_[i] == 0.0) continue;
    const double share = gain_[i] / variance;
    mean_[i] += share * innovation;
    for (std::size_t j = 0; j < n; ++j) covariance_[i * n + j] -= share * gain_[j];
  }
}

double Belief::confine(std::size_t value, double least, double most) {
  if (!narrowed(value) || !(most > least)) return 0.0;
  const double now = variance(value), first = first_variance_[value];
  // What the readings alone say: the present distribution without the one it began with.
  const double weight = 1.0 / now - 1.0 / first;
  const double spread = std::sqrt(1.0 / weight);
  const double centre = (mean_[value] / now - first_mean_[value] / first) / weight;
  double from = (least - centre) / spread, to = (most - centre) / spread;
  const double share = between(from, to);
  const double total = std::sqrt(1.0 / weight + first);
  const double z = (centre - first_mean_[value]) / total;
  const double log_normal = -0.5 * z * z - std::log(total * root_two_pi);

  double mean = 0.0, variance = 0.0, log_share = 0.0;
  if (share > 1e-18) {
    log_share = std::log(share);
    const double shift = (density(from) - density(to)) / share;
    const double curve = (from * density(from) - to * density(to)) / share;
    mean = centre + spread * shift;
    variance = spread * spread * std::max(1.0 + curve - shift * shift, 1e-6);
  } else {  // far outside: at the nearer limit, with the exponential tail there
    const double out = from > 0.0 ? from : -to;
    log_share = -0.5 * out * out - std::log(std::max(out, 1.0) * root_two_pi);
    mean = from > 0.0 ? least : most;
    variance = spread * spread / (out * out);
  }
  mean = std::clamp(mean, least, most);
  const std::size_t n = size();
  gain_.resize(n);
  std::vector<double>& column = gain_;
  for (std::size_t i = 0; i < n; ++i) column[i] = covariance_[i * n + value] / now;
  const double moved = mean - mean_[value], narrower = variance - now;
  for (std::size_t i = 0; i < n; ++i) {
    mean_[i] += column[i] * moved;
    for (std::size_t j = 0; j < n; ++j) covariance_[i * n + j] += column[i] * column[j] * narrower;
  }
  return std::max(log_share - std::log(most - least) - log_normal, -most_refusal);
}

}  // namespace switchwright
