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
/// Two-sided Student factor, e.g. t_factor(0.95, 10) = 2.228; nu may be infinite, at least 1 is assumed.
double t_factor(double coverage, double nu);

/// Quantile with linear interpolation between order statistics (R's type 7). `values` must not be empty.
double quantile_of(std::vector<double> values, double p);

}  // namespace switchwright
