#include "switchwright/judge/conformance.hpp"

#include <cmath>
#include <numbers>

namespace switchwright {

Outcome decide(double value, double U, const Interval& tolerance, DecisionRule rule) {
  const double guard = guard_band(rule, U);
  if (std::isnan(value) || std::isnan(guard)) return Outcome::undecided;
  if (value < tolerance.min - guard || value > tolerance.max + guard) return Outcome::fail;
  if (value >= tolerance.min + guard && value <= tolerance.max - guard) return Outcome::pass;
  return Outcome::undecided;
}

Outcome decide_beyond(double end, double U, bool above, const Interval& tolerance, DecisionRule rule) {
  const double guard = guard_band(rule, U);
  if (std::isnan(end) || std::isnan(guard)) return Outcome::undecided;
  if (above) {
    if (!tolerance.bounded_above()) return end - guard >= tolerance.min ? Outcome::pass : Outcome::undecided;
    return end - guard >= tolerance.max ? Outcome::fail : Outcome::undecided;
  }
  if (!tolerance.bounded_below()) return end + guard <= tolerance.max ? Outcome::pass : Outcome::undecided;
  return end + guard <= tolerance.min ? Outcome::fail : Outcome::undecided;
}

double conformance_probability(double value, double u, const Interval& tolerance) {
  if (!(u > 0.0)) return tolerance.contains(value) ? 1.0 : 0.0;
  const auto below = [&](double limit) { return 0.5 * std::erfc((value - limit) / (u * std::numbers::sqrt2)); };
  const auto above = [&](double limit) { return 0.5 * std::erfc((limit - value) / (u * std::numbers::sqrt2)); };
  // Far out on the high side both lower-tail values are 1 and their difference loses all digits: use the tail
  // that is small.
  if (value < tolerance.min) return above(tolerance.min) - above(tolerance.max);
  if (value > tolerance.max) return below(tolerance.max) - below(tolerance.min);
  return 1.0 - below(tolerance.min) - above(tolerance.max);
}

}  // namespace switchwright
