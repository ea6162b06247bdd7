// A closed interval of real numbers; an unbounded end is an infinity.
#pragma once

#include <limits>

namespace switchwright {

struct Interval {
  double min = -std::numeric_limits<double>::infinity();
  double max = std::numeric_limits<double>::infinity();

  bool bounded_above() const { return max < std::numeric_limits<double>::infinity(); }
  bool bounded_below() const { return min > -std::numeric_limits<double>::infinity(); }
  bool contains(double x) const { return min <= x && x <= max; }

  friend bool operator==(const Interval&, const Interval&) = default;
};

}  // namespace switchwright
