// The Shapiro-Wilk test by Royston's approximation (1995, algorithm AS R94); its constants stand below as published.
#include <algorithm>
#include <array>
#include <boost/math/distributions/normal.hpp>
#include <cmath>
#include <numbers>

#include "switchwright/lot/capability.hpp"

namespace switchwright {

namespace {

template <std::size_t n>
double polynomial(const std::array<double, n>& coefficients, double x) {
  double sum = 0.0;
  for (std::size_t i = n; i-- > 0;) sum = sum * x + coefficients[i];
  return sum;
}

/// Weights of the differences between the ends of the ordered values, outermost first.
std::vector<double> weights(std::size_t n) {
  std::vector<double> a(n / 2);
  if (n == 3) {
    a[0] = std::numbers::sqrt2 / 2.0;
    return a;
  }
  const auto count = static_cast<double>(n);
  double squares = 0.0;
  for (std::size_t i = 0; i < a.size(); ++i) {
    a[i] = boost::math::quantile(boost::math::normal{}, (static_cast<double>(i) + 1.0 - 0.375) / (count + 0.25));
    squares += 2.0 * a[i] * a[i];
  }
  static constexpr std::array first{0.0, 0.221157, -0.147981, -2.07119, 4.434685, -2.706056};
  static constexpr std::array second{0.0, 0.042981, -0.293762, -1.752461, 5.682633, -3.582633};
  const double root = std::sqrt(squares), rsn = 1.0 / std::sqrt(count);
  const double a1 = polynomial(first, rsn) - a[0] / root;
  std::size_t done = 1;
  double scale;
  if (n > 5) {
    const double a2 = polynomial(second, rsn) - a[1] / root;
    scale = std::sqrt((squares - 2.0 * a[0] * a[0] - 2.0 * a[1] * a[1]) / (1.0 - 2.0 * a1 * a1 - 2.0 * a2 * a2));
    a[1] = a2;
    done = 2;
  } else {
    scale = std::sqrt((squares - 2.0 * a[0] * a[0]) / (1.0 - 2.0 * a1 * a1));
  }
  a[0] = a1;
  for (std::size_t i = done; i < a.size(); ++i) a[i] /= -scale;
  return a;
}

double chance_of(double w, std::size_t n) {
  if (n == 3) {
    const double p = 6.0 / std::numbers::pi * (std::asin(std::sqrt(w)) - std::numbers::pi / 3.0);
    return std::clamp(p, 0.0, 1.0);
  }
  const auto count = static_cast<double>(n);
  double y = std::log(1.0 - w), mean, sd;
  if (n <= 11) {
    const double gamma = -2.273 + 0.459 * count;
    if (y >= gamma) return 1e-99;
    y = -std::log(gamma - y);
    mean = polynomial(std::array{0.544, -0.39978, 0.025054, -6.714e-4}, count);
    sd = std::exp(polynomial(std::array{1.3822, -0.77857, 0.062767, -0.0020322}, count));
  } else {
    const double x = std::log(count);
    mean = polynomial(std::array{-1.5861, -0.31082, -0.083751, 0.0038915}, x);
    sd = std::exp(polynomial(std::array{-0.4803, -0.082676, 0.0030302}, x));
  }
  return boost::math::cdf(boost::math::complement(boost::math::normal{mean, sd}, y));
}

}  // namespace

std::optional<Normality> shapiro_wilk(std::span<const double> values) {
  const std::size_t n = values.size();
  if (n < 3 || n > 5000) return std::nullopt;
  std::vector<double> sorted(values.begin(), values.end());
  std::sort(sorted.begin(), sorted.end());
  if (!(sorted.back() > sorted.front())) return std::nullopt;
  double mean = 0.0;
  for (const double x : sorted) mean += (x - sorted[0]) / static_cast<double>(n);
  const auto a = weights(n);
  double between = 0.0, squares = 0.0;
  for (std::size_t i = 0; i < a.size(); ++i) between += a[i] * (sorted[n - 1 - i] - sorted[i]);
  for (const double x : sorted) squares += (x - sorted[0] - mean) * (x - sorted[0] - mean);
  Normality result;
  result.w = std::min(1.0, between * between / squares);
  result.p = result.w >= 1.0 ? 1.0 : chance_of(result.w, n);
  return result;
}

}  // namespace switchwright
