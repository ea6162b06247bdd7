// How much a reading that has not been taken is expected to tell.
//
// I = sum_h p_h E_y|h [ log2 f(y|h) / f(y) ]; a reading is over-range with the hypothesis' own probability,
// else normal. The expectation is taken with the trapezoidal rule over +/-6 standard uncertainties, which for
// normal curves is exact to far more digits than are needed.
#include <cmath>
#include <numbers>

#include "switchwright/explain/explain.hpp"

namespace switchwright {

double expected_information_bits(const std::vector<Outlook>& outlooks) {
  double total = 0.0;
  for (const Outlook& h : outlooks) total += h.probability;
  if (!(total > 0.0)) return 0.0;
  const double root = std::sqrt(2.0 * std::numbers::pi);
  const auto density = [&](const Outlook& h, double y) {
    if (!(h.over_range < 1.0) || !std::isfinite(h.ohm)) return 0.0;
    const double z = (y - h.ohm) / h.u_ohm;
    return z * z > 200.0 ? 0.0 : (1.0 - h.over_range) * std::exp(-0.5 * z * z) / (h.u_ohm * root);
  };
  double over_all = 0.0;
  for (const Outlook& h : outlooks) over_all += h.probability / total * h.over_range;

  double bits = 0.0;
  for (const Outlook& h : outlooks) {
    const double p = h.probability / total;
    if (p <= 0.0) continue;
    if (h.over_range > 0.0) bits += p * h.over_range * std::log2(h.over_range / over_all);
    if (!(h.over_range < 1.0) || !std::isfinite(h.ohm)) continue;
    constexpr double step = 0.25;
    for (int i = -24; i <= 24; ++i) {
      const double z = i * step, y = h.ohm + z * h.u_ohm;
      double mixed = 0.0;
      for (const Outlook& other : outlooks) mixed += other.probability / total * density(other, y);
      const double share = step * std::exp(-0.5 * z * z) / root;
      bits += p * (1.0 - h.over_range) * share * std::log2(density(h, y) / mixed);
    }
  }
  return std::max(bits, 0.0);
}

}  // namespace switchwright
