// What a supply may be, by standard.
#include <array>
#include <cmath>

#include "switchwright/profile/powered.hpp"

namespace switchwright {

namespace {

struct Service {
  double nominal_v;
  Interval a;
  Interval b;
};
// ANSI C84.1 service voltage ranges, from memory; they agree with +/-5 % (A) and -8.3 % / +5.8 % (B) to the
// volt.
constexpr std::array service{
    Service{120, {114, 126}, {110, 127}},
    Service{208, {197, 218}, {191, 220}},
    Service{240, {228, 252}, {220, 254}},
    Service{480, {456, 504}, {440, 508}},
};

}  // namespace

std::vector<std::string> supply_standards() { return {"ansi-c84.1-a", "ansi-c84.1-b", "iec-60038"}; }

std::optional<Interval> supply_range(const std::string& standard, double nominal_v) {
  if (standard == "iec-60038") return Interval{0.9 * nominal_v, 1.1 * nominal_v};  // supply terminals, +/-10 %
  for (const Service& row : service) {
    if (row.nominal_v != nominal_v) continue;
    if (standard == "ansi-c84.1-a") return row.a;
    if (standard == "ansi-c84.1-b") return row.b;
  }
  return std::nullopt;
}

Interval supply_range_of_rating(double rated_v) {
  // Range A is 5 % either side; what it does not list has the share alone.
  return supply_range("ansi-c84.1-a", rated_v).value_or(Interval{0.95 * rated_v, 1.05 * rated_v});
}

}  // namespace switchwright
