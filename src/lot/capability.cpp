#include "switchwright/lot/capability.hpp"

#include <algorithm>
#include <boost/math/distributions/chi_squared.hpp>
#include <boost/math/distributions/non_central_t.hpp>
#include <boost/math/distributions/normal.hpp>
#include <boost/math/distributions/students_t.hpp>
#include <cmath>
#include <numeric>

#include "switchwright/core/error.hpp"

namespace switchwright {

namespace {

namespace bm = boost::math;

double mean_of(std::span<const double> values) {
  long double sum = 0.0L;
  for (const double x : values) sum += x - values[0];
  return static_cast<double>(values[0] + sum / static_cast<long double>(values.size()));
}

/// Absent below two values.
std::optional<double> sd_of(std::span<const double> values) {
  if (values.size() < 2) return std::nullopt;
  // Two passes about the first value, with the rounding of the mean taken out: the certified sets of NIST ask for no less.
  long double first = 0.0L;
  for (const double x : values) first += static_cast<long double>(x) - values[0];
  first /= static_cast<long double>(values.size());
  long double squares = 0.0L, rest = 0.0L;
  for (const double x : values) {
    const long double d = static_cast<long double>(x) - values[0] - first;
    squares += d * d;
    rest += d;
  }
  const auto n = static_cast<long double>(values.size());
  return static_cast<double>(std::sqrt((squares - rest * rest / n) / (n - 1.0L)));
}

double chi(double share, double df) { return bm::quantile(bm::chi_squared{df}, share); }
double z_of(double share) { return bm::quantile(bm::normal{}, share); }

void check_confidence(double confidence) {
  if (!(confidence > 0.0 && confidence < 1.0)) throw Error(ErrorKind::usage, "a confidence lies between 0 and 1");
}

void fill_indices(Capability& c, const ValueLimits& limits) {
  const double mean = *c.mean, sd = *c.sd, tail = 0.5 * (1.0 - c.confidence);
  const auto n = static_cast<double>(c.n);
  const double half = bm::quantile(bm::complement(bm::students_t{n - 1.0}, tail)) * sd / std::sqrt(n);
  c.mean_limits = Bounds{mean - half, mean + half};
  const double least = chi(tail, n - 1.0), most = chi(1.0 - tail, n - 1.0);
  c.sd_limits = Bounds{sd * std::sqrt((n - 1.0) / most), sd * std::sqrt((n - 1.0) / least)};
  if (sd <= 0.0) return;
  if (limits.upper) c.cpu = (*limits.upper - mean) / (3.0 * sd);
  if (limits.lower) c.cpl = (mean - *limits.lower) / (3.0 * sd);
  if (c.cpu || c.cpl)
    c.cpk = std::min(c.cpu.value_or(*(c.cpl ? c.cpl : c.cpu)), c.cpl.value_or(*(c.cpu ? c.cpu : c.cpl)));
  if (c.cpk) {
    const double spread = z_of(1.0 - tail) * std::sqrt(1.0 / (9.0 * n) + *c.cpk * *c.cpk / (2.0 * (n - 1.0)));
    c.cpk_limits = Bounds{*c.cpk - spread, *c.cpk + spread};
  }
  if (!limits.lower || !limits.upper) return;
  const double width = *limits.upper - *limits.lower;
  c.cp = width / (6.0 * sd);
  c.cp_limits = Bounds{*c.cp * std::sqrt(least / (n - 1.0)), *c.cp * std::sqrt(most / (n - 1.0))};
  const double target = limits.target.value_or(0.5 * (*limits.lower + *limits.upper));
  c.cpm = width / (6.0 * std::hypot(sd, mean - target));
}

}  // namespace

Capability capability(std::span<const double> values, const ValueLimits& limits, double confidence) {
  check_confidence(confidence);
  if (limits.lower && limits.upper && !(*limits.lower < *limits.upper))
    throw Error(ErrorKind::usage, "the lower limit must lie below the upper one");
  if (std::any_of(values.begin(), values.end(), [](double x) { return !std::isfinite(x); }))
    throw Error(ErrorKind::usage, "statistics are of finite values; an open reading is none");
  Capability c;
  c.n = values.size();
  c.confidence = confidence;
  if (values.empty()) return c;
  c.mean = mean_of(values);
  c.sd = sd_of(values);
  const auto [least, most] = std::minmax_element(values.begin(), values.end());
  c.min = *least;
  c.max = *most;
  if (c.sd) fill_indices(c, limits);
  for (const double x : values) {
    c.below += limits.lower && x < *limits.lower;
    c.above += limits.upper && x > *limits.upper;
  }
  if (limits.lower || limits.upper) {
    const auto outside = static_cast<long>(c.below + c.above), n = static_cast<long>(c.n);
    c.outside_exact = clopper_pearson(outside, n, confidence);
    c.outside_wilson = wilson(outside, n, confidence);
  }
  return c;
}

Capability capability_of(std::size_t n, double mean, double sd, const ValueLimits& limits, double confidence) {
  check_confidence(confidence);
  if (n < 2 || !(sd > 0.0))
    throw Error(ErrorKind::usage, "a capability needs at least two values and a spread above 0");
  Capability c;
  c.n = n;
  c.mean = mean;
  c.sd = sd;
  c.confidence = confidence;
  fill_indices(c, limits);
  return c;
}

std::optional<IndividualsChart> individuals_chart(std::span<const double> values) {
  if (values.size() < 2) return std::nullopt;
  // Constants of a range of two: d2 = 1.128, D4 = 3.267 (e-Handbook 6.3.2.2).
  constexpr double d2 = 1.128, D4 = 3.267;
  IndividualsChart chart;
  chart.centre = mean_of(values);
  for (std::size_t i = 1; i < values.size(); ++i) chart.mean_range += std::abs(values[i] - values[i - 1]);
  chart.mean_range /= static_cast<double>(values.size() - 1);
  chart.lower = chart.centre - 3.0 * chart.mean_range / d2;
  chart.upper = chart.centre + 3.0 * chart.mean_range / d2;
  chart.range_upper = D4 * chart.mean_range;
  for (std::size_t i = 0; i < values.size(); ++i) {
    if (values[i] < chart.lower || values[i] > chart.upper) chart.outside.push_back(i);
    if (i > 0 && std::abs(values[i] - values[i - 1]) > chart.range_upper) chart.range_outside.push_back(i);
  }
  return chart;
}

std::vector<HistogramBar> histogram_of(std::span<const double> values) {
  if (values.empty()) return {};
  const auto [low, high] = std::minmax_element(values.begin(), values.end());
  if (*low == *high) return {{*low, *high, values.size()}};
  const double wanted = std::clamp(std::sqrt(static_cast<double>(values.size())), 5.0, 20.0);
  const double rough = (*high - *low) / wanted, power = std::pow(10.0, std::floor(std::log10(rough)));
  const double digit = rough / power;
  const double width = power * (digit <= 1.5 ? 1.0 : digit <= 3.5 ? 2.0 : digit <= 7.5 ? 5.0 : 10.0);
  const double first = std::floor(*low / width);
  std::vector<HistogramBar> bars;
  for (double i = first; i == first || i * width < *high; i += 1.0) bars.push_back({i * width, (i + 1.0) * width, 0});
  for (const double x : values) {
    const auto bar =
        static_cast<std::size_t>(std::clamp(std::floor(x / width) - first, 0.0, static_cast<double>(bars.size() - 1)));
    ++bars[bar].count;
  }
  return bars;
}

double two_sided_k(std::size_t n, double share, double confidence) {
  check_confidence(confidence);
  if (n < 2 || !(share > 0.0 && share < 1.0))
    throw Error(ErrorKind::usage, "a tolerance interval needs two values and a share below 1");
  const auto count = static_cast<double>(n);
  const double df = count - 1.0;
  return z_of(0.5 * (1.0 + share)) * std::sqrt(df * (1.0 + 1.0 / count) / chi(1.0 - confidence, df));
}

double one_sided_k(std::size_t n, double share, double confidence) {
  check_confidence(confidence);
  if (n < 2 || !(share > 0.0 && share < 1.0))
    throw Error(ErrorKind::usage, "a tolerance interval needs two values and a share below 1");
  const double root = std::sqrt(static_cast<double>(n));
  return bm::quantile(bm::non_central_t{static_cast<double>(n - 1), z_of(share) * root}, confidence) / root;
}

std::vector<std::size_t> outliers(std::span<const double> values, std::size_t most) {
  constexpr double level = 0.05;
  if (values.size() < 8) return {};
  most = std::min(most, values.size() / 5);
  std::vector<std::size_t> left(values.size()), order;
  std::iota(left.begin(), left.end(), std::size_t{0});
  std::size_t apart = 0;
  for (std::size_t i = 1; i <= most; ++i) {
    std::vector<double> rest;
    for (const std::size_t at : left) rest.push_back(values[at]);
    const double mean = mean_of(rest), sd = *sd_of(rest);
    if (sd <= 0.0) break;
    const auto farthest = std::max_element(left.begin(), left.end(), [&](std::size_t a, std::size_t b) {
      return std::abs(values[a] - mean) < std::abs(values[b] - mean);
    });
    const auto n = static_cast<double>(left.size());
    const double t = bm::quantile(bm::complement(bm::students_t{n - 2.0}, level / (2.0 * n)));
    const double critical = (n - 1.0) * t / std::sqrt((n - 2.0 + t * t) * n);
    order.push_back(*farthest);
    if (std::abs(values[*farthest] - mean) / sd > critical) apart = i;
    left.erase(farthest);
  }
  order.resize(apart);
  return order;
}

std::optional<MeterShare> meter_share(const Capability& capability, double u) {
  if (!capability.sd || !(*capability.sd > 0.0) || !(u >= 0.0)) return std::nullopt;
  MeterShare share;
  share.ratio = u / *capability.sd;
  if (share.ratio < 1.0) share.part_sd = std::sqrt(*capability.sd * *capability.sd - u * u);
  share.meter_dominates = share.ratio > 0.3;
  return share;
}

}  // namespace switchwright
