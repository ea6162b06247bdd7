#include "switchwright/cycle/statistics.hpp"

#include <algorithm>
#include <boost/math/distributions/students_t.hpp>
#include <cmath>
#include <map>

namespace switchwright {

void Moments::add(double x) {
  if (n_ == 0) {
    origin_ = x;
    min_ = max_ = x;
  }
  min_ = std::min(min_, x);
  max_ = std::max(max_, x);
  const long double y = static_cast<long double>(x) - origin_;
  if (n_ > 0) products_ += y * last_;
  ++n_;
  sum_ += y;
  last_ = y;
  const long double delta = y - mean_;
  mean_ += delta / static_cast<long double>(n_);
  m2_ += delta * (y - mean_);
}

std::optional<double> Moments::mean() const {
  if (n_ == 0) return std::nullopt;
  return static_cast<double>(origin_ + mean_);
}

std::optional<double> Moments::sd() const {
  if (n_ < 2) return std::nullopt;
  return static_cast<double>(std::sqrt(m2_ / static_cast<long double>(n_ - 1)));
}

std::optional<double> Moments::min() const { return n_ == 0 ? std::nullopt : std::optional(min_); }
std::optional<double> Moments::max() const { return n_ == 0 ? std::nullopt : std::optional(max_); }

std::optional<double> Moments::lag1() const {
  if (n_ < 3 || m2_ <= 0) return std::nullopt;
  // sum (y_i - m)(y_i+1 - m), with y_1 = 0 because the first value is the origin.
  const auto n = static_cast<long double>(n_);
  const long double cross = products_ - mean_ * (2 * sum_ - last_) + (n - 1) * mean_ * mean_;
  return static_cast<double>(cross / m2_);
}

void MedianKeeper::add(double x) {
  if (!sketch_) {
    if (values_.size() < exact_values) {
      values_.push_back(x);
      return;
    }
    sketch_ = std::make_unique<AdaptiveHistogram>(2048);
    for (const double value : values_) sketch_->add(value);
    values_ = {};
  }
  sketch_->add(x);
}

std::optional<double> MedianKeeper::median() const {
  if (sketch_) return sketch_->quantile(0.5);
  if (values_.empty()) return std::nullopt;
  return quantile_of(values_, 0.5);
}

double MedianKeeper::error_bound() const { return sketch_ ? sketch_->bin_width() : 0.0; }

void BlockSeries::add(double x) {
  sum_ += x;
  if (++in_block_ < block_) return;
  means_.push_back(sum_ / static_cast<double>(block_));
  sum_ = 0.0;
  in_block_ = 0;
  if (means_.size() < most) return;
  for (std::size_t i = 0; i < most / 2; ++i) means_[i] = 0.5 * (means_[2 * i] + means_[2 * i + 1]);
  means_.resize(most / 2);
  block_ *= 2;
}

std::optional<Trend> trend_of(std::span<const double> values) {
  const std::size_t n = values.size();
  if (n < 4) return std::nullopt;
  Trend trend;
  std::vector<double> slopes;
  slopes.reserve(n * (n - 1) / 2);
  for (std::size_t i = 0; i < n; ++i)
    for (std::size_t j = i + 1; j < n; ++j) {
      const double rise = values[j] - values[i];
      trend.s += rise > 0.0 ? 1.0 : rise < 0.0 ? -1.0 : 0.0;
      slopes.push_back(rise / static_cast<double>(j - i));
    }
  trend.slope = quantile_of(std::move(slopes), 0.5);

  std::vector<double> sorted(values.begin(), values.end());
  std::sort(sorted.begin(), sorted.end());
  const auto count = static_cast<double>(n);
  double variance = count * (count - 1.0) * (2.0 * count + 5.0);
  const double pairs = 0.5 * count * (count - 1.0);
  double tied_pairs = 0.0;
  for (auto from = sorted.begin(); from != sorted.end();) {
    const auto to = std::upper_bound(from, sorted.end(), *from);
    const auto t = static_cast<double>(to - from);
    variance -= t * (t - 1.0) * (2.0 * t + 5.0);
    tied_pairs += 0.5 * t * (t - 1.0);
    from = to;
  }
  variance /= 18.0;
  if (pairs > tied_pairs) trend.tau = trend.s / std::sqrt((pairs - tied_pairs) * pairs);
  if (variance > 0.0 && trend.s != 0.0) trend.z = (trend.s - std::copysign(1.0, trend.s)) / std::sqrt(variance);
  trend.p = std::erfc(std::abs(trend.z) / std::sqrt(2.0));
  return trend;
}

std::optional<Trend> trend_of(const BlockSeries& series) {
  // Means of equal values differ in their last bits: that is rounding and must count as a tie, not as a trend.
  std::vector<double> values = series.means();
  double largest = 0.0;
  for (const double x : values) largest = std::max(largest, std::abs(x));
  const double step = 1e-9 * largest;
  if (step > 0.0)
    for (double& x : values) x = std::round(x / step) * step;
  auto trend = trend_of(std::span<const double>(values));
  if (trend) {
    trend->block = series.block();
    trend->slope /= static_cast<double>(series.block());
  }
  return trend;
}

double combined(std::span<const Contribution> contributions) {
  double sum = 0.0;
  for (const Contribution& c : contributions) sum += c.u * c.u;
  return std::sqrt(sum);
}

double effective_degrees_of_freedom(std::span<const Contribution> contributions) {
  const double u = combined(contributions);
  double sum = 0.0;
  for (const Contribution& c : contributions)
    if (std::isfinite(c.nu) && c.u > 0.0) sum += std::pow(c.u, 4) / c.nu;
  return sum > 0.0 ? std::pow(u, 4) / sum : std::numeric_limits<double>::infinity();
}

TypeA type_a_of_mean(std::uint64_t n, double sd, std::optional<double> lag1) {
  constexpr double largest_rho = 0.88;   // beyond it n values say nothing about how far their mean may be off
  constexpr double least_freedom = 1.9;  // of three values and more
  const auto count = static_cast<double>(n);
  const double upper_limit = 1.15 + 4.0 / count;  // standard deviations above the estimate
  const double r1 = lag1.value_or(-1.0 / count);
  const double corrected = r1 + (1.0 + 4.0 * std::max(r1, 0.0)) / count;
  const double rho = std::clamp(corrected + upper_limit / std::sqrt(count), 0.0, largest_rho);
  // The sum in closed form.
  const double F =
      (1.0 + rho) / (1.0 - rho) - 2.0 * rho * (1.0 - std::pow(rho, count)) / (count * (1.0 - rho) * (1.0 - rho));
  const double too_small = 1.0 - (F - 1.0) / (count - 1.0);
  TypeA result;
  result.n_effective = count / F;
  result.u = sd / std::sqrt(too_small) / std::sqrt(result.n_effective);
  result.nu = n == 2 ? 1.0 : std::clamp(result.n_effective - 1.0, least_freedom, count - 1.0);
  return result;
}

double t_factor(double coverage, double nu) {
  const boost::math::students_t_distribution<double> student(std::max(nu, 1.0));
  return boost::math::quantile(boost::math::complement(student, 0.5 * (1.0 - coverage)));
}

double quantile_of(std::vector<double> values, double p) {
  const double rank = p * static_cast<double>(values.size() - 1);
  const auto below = static_cast<std::size_t>(rank);
  const auto at = values.begin() + static_cast<std::ptrdiff_t>(below);
  std::nth_element(values.begin(), at, values.end());
  const double first = *at;
  const double share = rank - static_cast<double>(below);
  if (share == 0.0) return first;
  return first + share * (*std::min_element(at + 1, values.end()) - first);
}

}  // namespace switchwright
