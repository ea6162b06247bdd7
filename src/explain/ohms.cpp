#include "explain/ohms.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

namespace switchwright {

namespace {
constexpr double infinity = std::numeric_limits<double>::infinity();
}

Ohms::Ohms(std::size_t nodes) : nodes_(nodes), ohm_(nodes * nodes, infinity) {
  for (std::size_t i = 0; i < nodes; ++i) at(i, i) = 0.0;
}

void Ohms::add(std::size_t c, std::size_t d, double ohm) {
  if (c == d || ohm == infinity) return;
  const std::size_t n = nodes_;
  const double across = (*this)(c, d);
  if (across == infinity) {
    // Two separate parts grow together: every path from one to the other runs through the new resistor.
    const std::vector<double> to_c(&ohm_[c * n], &ohm_[c * n] + n);
    const std::vector<double> to_d(&ohm_[d * n], &ohm_[d * n] + n);
    for (std::size_t a = 0; a < n; ++a)
      for (std::size_t b = 0; b < n; ++b)
        if (to_c[a] != infinity && to_d[b] != infinity) at(a, b) = at(b, a) = to_c[a] + ohm + to_d[b];
    return;
  }
  if (!(ohm + across > 0.0)) return;
  const double admittance = 1.0 / (ohm + across);
  std::vector<double> v(n, infinity);
  for (std::size_t x = 0; x < n; ++x)
    if ((*this)(x, c) != infinity) v[x] = ((*this)(x, d) - (*this)(x, c)) / 2.0;
  for (std::size_t a = 0; a < n; ++a) {
    if (v[a] == infinity) continue;
    for (std::size_t b = a + 1; b < n; ++b) {
      if (v[b] == infinity) continue;
      const double between = v[a] - v[b];
      at(a, b) = at(b, a) = std::max((*this)(a, b) - between * between * admittance, 0.0);
    }
  }
}

std::optional<double> Ohms::needed(std::size_t c, std::size_t d, std::size_t a, std::size_t b, double reading,
                                   double& slope) const {
  const Ohms& r = *this;
  const double across = r(c, d);
  if (across == infinity) {
    if (r(a, b) != infinity) return std::nullopt;  // the reading does not depend on the resistor
    slope = 1.0;
    double path = r(a, c) + r(d, b);
    if (path == infinity) path = r(a, d) + r(c, b);
    if (path == infinity) return std::nullopt;
    return reading - path;
  }
  if (r(a, c) == infinity || r(b, c) == infinity) return std::nullopt;
  const double between = (r(a, d) - r(a, c) - r(b, d) + r(b, c)) / 2.0;
  const double drop = r(a, b) - reading;  // what the resistor has to take away
  if (!(drop > 0.0) || between * between <= 1e-18 * across * across) return std::nullopt;
  const double sum = between * between / drop;
  slope = between * between / (sum * sum);
  return sum - across;
}

double Ohms::slope(std::size_t c, std::size_t d, double ohm, std::size_t a, std::size_t b) const {
  const Ohms& r = *this;
  if (r(a, c) == infinity || r(b, c) == infinity) return 0.0;
  const double share = (r(a, d) - r(a, c) - r(b, d) + r(b, c)) / (2.0 * ohm);
  return std::min(share * share, 1.0);
}

}  // namespace switchwright
