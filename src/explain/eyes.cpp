#include "explain/eyes.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>

namespace switchwright {

Eyes::Eyes(const MeterDefinition& meter, const Leads& leads, double spread_ohm)
    : meter_(meter), leads_(leads), spread_ohm_(spread_ohm), top_(meter.top_of_range(Quantity::resistance)) {
  if (top_) u_top_ = std::hypot(uncertainty_of(meter, Quantity::resistance, *top_, 0.0).u, 1e-9);
}

double Eyes::u(double ohm) const {
  if (std::isinf(ohm)) return std::numeric_limits<double>::infinity();
  return std::hypot(uncertainty_of(meter_, Quantity::resistance, ohm, 0.0, &leads_).u, spread_ohm_, 1e-9);
}

double Eyes::over_range(double ohm) const {
  if (std::isinf(ohm)) return 1.0;
  return top_ ? 0.5 * std::erfc((*top_ - ohm) / (u_top_ * std::numbers::sqrt2)) : 0.0;
}

double Eyes::divergence(double a, double b) const {
  const double over_a = over_range(a), over_b = over_range(b);
  if (over_a > 0.5 && over_b > 0.5) return 0.0;
  if ((over_a > 0.5) != (over_b > 0.5)) return 10.0 * std::abs(over_a - over_b);
  const double z = (a - b) / std::max(u(a), u(b));
  return 0.5 * z * z;
}

Indication Eyes::indication(double ohm) const {
  Indication i;
  i.flags.autorange = true;
  if (over_range(ohm) > 0.5) {
    i.state = ReadingState::over_range;
    return i;
  }
  i.value = ohm + leads_.correction_ohm();
  if (const AccuracyRow* row = meter_.accuracy_for(Quantity::resistance, i.value, 0.0)) i.resolution = row->resolution;
  return i;
}

}  // namespace switchwright
