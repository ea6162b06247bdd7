// Statistics of one measured value over the units of a lot. Every figure that too few values cannot give is absent.
#pragma once

#include <cstddef>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "switchwright/lot/proportion.hpp"

namespace switchwright {

struct ValueLimits {
  std::optional<double> lower;
  std::optional<double> upper;
  std::optional<double> target;
};

/// e-Handbook 6.1.6.
struct Capability {
  std::size_t n = 0;
  std::optional<double> mean, sd, min, max;
  std::optional<Bounds> mean_limits;  ///< confidence limits, Student
  std::optional<Bounds> sd_limits;    ///< chi-square
  std::optional<double> cp, cpk, cpu, cpl, cpm;
  std::optional<Bounds> cp_limits;                      ///< chi-square
  std::optional<Bounds> cpk_limits;                     ///< normal approximation
  std::size_t below = 0, above = 0;                     ///< values outside the limits
  std::optional<Bounds> outside_exact, outside_wilson;  ///< share of units outside, with confidence
  double confidence = 0.95;
};
Capability capability(std::span<const double> values, const ValueLimits& limits, double confidence = 0.95);
/// The same from published figures, without the values. @throws Error(usage) for n < 2 or sd <= 0.
Capability capability_of(std::size_t n, double mean, double sd, const ValueLimits& limits, double confidence = 0.95);

/// Shapiro-Wilk (Royston 1995, AS R94), 3 to 5000 values that are not all equal.
struct Normality {
  double w = 1.0;
  double p = 1.0;  ///< chance of a W this small or smaller from a normal distribution
};
std::optional<Normality> shapiro_wilk(std::span<const double> values);

/// Individuals and moving range (e-Handbook 6.3.2.2), from 2 values, in the order measured.
struct IndividualsChart {
  double centre = 0.0;
  double mean_range = 0.0;
  double lower = 0.0, upper = 0.0;         ///< of the values: centre -+ 3 MR / 1.128
  double range_upper = 0.0;                ///< of the moving range: 3.267 MR
  std::vector<std::size_t> outside;        ///< indices of values outside
  std::vector<std::size_t> range_outside;  ///< indices of values whose step from the one before is outside
};
std::optional<IndividualsChart> individuals_chart(std::span<const double> values);

struct HistogramBar {
  double from = 0.0, to = 0.0;  ///< from <= x < to; the last bar holds its end, too
  std::size_t count = 0;
};
/// Bars of a round width (1, 2, 5 times a power of ten), about as many as the square root of the count, 5 to 20.
std::vector<HistogramBar> histogram_of(std::span<const double> values);

/// Normal tolerance factors (e-Handbook 7.2.6.3): mean -+ k s holds `share` of the units with the confidence.
double two_sided_k(std::size_t n, double share, double confidence);  ///< Howe's approximation
double one_sided_k(std::size_t n, double share, double confidence);  ///< exact, non-central t

/// Generalised ESD test (Rosner 1983, e-Handbook 1.3.5.17.3) at the 5 % level: indices of the values that stand apart, the most
/// extreme first. They are named, never dropped: every figure above is with them. From 8 values; `most` at most a fifth of them.
std::vector<std::size_t> outliers(std::span<const double> values, std::size_t most = 10);

/// How much of the spread is the meter's own.
struct MeterShare {
  double ratio = 0.0;             ///< standard uncertainty over spread
  std::optional<double> part_sd;  ///< spread of the parts alone, where the meter leaves any
  bool meter_dominates = false;   ///< above 0.3 (common practice): the spread is not that of the parts
};
/// @param u standard uncertainty of one reading as it differs from unit to unit.
std::optional<MeterShare> meter_share(const Capability& capability, double u);

}  // namespace switchwright
