// The statistics of cycle timing, each in constant memory, each absent when there are too few values.
#pragma once

#include <cstddef>
#include <cstdint>
#include <limits>
#include <memory>
#include <optional>
#include <span>
#include <utility>
#include <vector>

#include "switchwright/cycle/histogram.hpp"

namespace switchwright {

/// Mean, standard deviation, extremes and lag-1 autocorrelation in one pass (Welford's update, sums about the
/// first value). Definitions as NIST StRD: sd with n - 1; r1 = sum (x_i - m)(x_i+1 - m) / sum (x_i - m)^2.
class Moments {
 public:
  void add(double x);
  std::uint64_t count() const { return n_; }
  std::optional<double> mean() const;  ///< from 1 value
  std::optional<double> sd() const;    ///< from 2 values
  std::optional<double> min() const;
  std::optional<double> max() const;
  std::optional<double> lag1() const;  ///< from 3 values that are not all equal

 private:
  std::uint64_t n_ = 0;
  long double origin_ = 0, mean_ = 0, m2_ = 0, products_ = 0, sum_ = 0, last_ = 0;
  double min_ = 0.0, max_ = 0.0;
};

/// Median: exact up to `exact_values` values, beyond that from a histogram, within `error_bound()`.
class MedianKeeper {
 public:
  static constexpr std::size_t exact_values = 16384;
  void add(double x);
  std::optional<double> median() const;
  /// 0 while exact, then the width of a histogram bin in the unit of the values.
  double error_bound() const;

 private:
  std::vector<double> values_;
  std::unique_ptr<AdaptiveHistogram> sketch_;
};

/// A series of any length as at most `most` means of equally many neighbours.
class BlockSeries {
 public:
  static constexpr std::size_t most = 1024;
  void add(double x);
  std::uint64_t block() const { return block_; }  ///< values per mean; 1 while the series is whole
  /// Full blocks only.
  const std::vector<double>& means() const { return means_; }

 private:
  std::vector<double> means_;
  std::uint64_t block_ = 1;
  std::uint64_t in_block_ = 0;
  double sum_ = 0.0;
};

/// Monotonic trend: Mann-Kendall test (normal approximation with tie and continuity correction; two-sided)
/// and the Theil-Sen slope.
struct Trend {
  double s = 0.0;    ///< concordant minus discordant pairs
  double tau = 0.0;  ///< Kendall's tau-b against time
  double z = 0.0;
  double p = 1.0;
  double slope = 0.0;       ///< median of all pairwise slopes, per index
  std::uint64_t block = 1;  ///< the values tested are means of this many neighbours
};
/// From 4 values; nothing below. Cost grows with the square of the length: meant for at most a few thousand.
std::optional<Trend> trend_of(std::span<const double> values);
std::optional<Trend> trend_of(const BlockSeries& series);

/// One contribution to a combined standard uncertainty.
struct Contribution {
  double u = 0.0;
  double nu = std::numeric_limits<double>::infinity();  ///< degrees of freedom
};
/// Welch-Satterthwaite (JCGM 100 G.4.1): u_c^4 / sum(u_i^4 / nu_i); infinite when no contribution is finite.
double effective_degrees_of_freedom(std::span<const Contribution> contributions);
/// Root sum of squares.
double combined(std::span<const Contribution> contributions);

/// Share of the values that U covers, as everywhere in the house: two standard deviations of a normal
/// distribution (JCGM 100, table G.2, column 95.45 %), so that k = 2.00 with many degrees of freedom.
constexpr double coverage_of_U = 0.9545;

/// What the spread of `n` neighbouring values says about their mean, when neighbours may be alike.
struct TypeA {
  double u = 0.0;            ///< standard uncertainty of the mean
  double nu = 1.0;           ///< its degrees of freedom
  double n_effective = 1.0;  ///< so many independent values would say as much
};
/// Type A evaluation (JCGM 100 4.2) for values whose neighbours are correlated (JCGM 100 4.2.7).
/// A first-order correlation rho makes the variance of a mean of n values sd^2 F / n, with
/// F = 1 + 2 sum_{k<n} (1 - k/n) rho^k, and the sample variance too small by 1 - (F - 1) / (n - 1); then
/// n / F values are worth the n. rho is not known: the lag-1 autocorrelation of few values is too small by
/// about (1 + 4 rho) / n (Kendall's approximation, from memory) and known to 1 / sqrt(n), so rho is taken at its
/// upper limit, 1.15 + 4/n standard deviations above the corrected estimate; never below 0, never above 0.88. These
/// three figures, and that there are never fewer than 1.9 degrees of freedom, come from simulation (tests/bench/timing):
/// U then holds the true mean in 93 % of the series and more, up to a correlation of 0.9.
/// @param n at least 2. @param sd sample standard deviation. @param lag1 as Moments gives it; absent counts as -1/n.
TypeA type_a_of_mean(std::uint64_t n, double sd, std::optional<double> lag1);

/// Two-sided Student factor, e.g. t_factor(0.95, 10) = 2.228; nu may be infinite, at least 1 is assumed.
double t_factor(double coverage, double nu);

/// Quantile with linear interpolation between order statistics (R's type 7). `values` must not be empty.
double quantile_of(std::vector<double> values, double p);

}  // namespace switchwright
