// The plain rules behind the judgement of timing: voltage, thermal times, clicks.
#include <cmath>

#include "switchwright/core/error.hpp"
#include "switchwright/judge/timing.hpp"

namespace switchwright {

double duty_at_rated_voltage(double duty, double voltage_v, double rated_v) {
  if (!(voltage_v > 0.0) || !(rated_v > 0.0))
    throw Error(ErrorKind::usage, "measured and rated voltage must be above 0 V", "", "state both in volt");
  return duty * (voltage_v / rated_v) * (voltage_v / rated_v);
}

std::optional<double> thermal_time_s(double tau_s, double toward, double from, double to) {
  const double ratio = (toward - from) / (toward - to);
  if (!(ratio >= 1.0) || !std::isfinite(ratio)) return std::nullopt;
  return tau_s * std::log(ratio);
}

double click_relaxation_db(double click_rate_per_min) {
  if (click_rate_per_min >= 30.0) return 0.0;
  return click_rate_per_min < 0.2 ? 44.0 : 20.0 * std::log10(30.0 / click_rate_per_min);
}

}  // namespace switchwright
