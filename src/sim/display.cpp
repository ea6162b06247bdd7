#include "sim/display.hpp"

#include <cmath>
#include <vector>

namespace switchwright::sim {

namespace {

std::vector<int> prefixes_of(Quantity quantity) {
  switch (quantity) {
    case Quantity::resistance:
    case Quantity::resistance_4_wire:
    case Quantity::frequency: return {0, 3, 6};
    case Quantity::voltage_dc:
    case Quantity::voltage_ac: return {-3, 0};
    case Quantity::current_dc:
    case Quantity::current_ac: return {-6, -3, 0};
    case Quantity::capacitance: return {-9, -6, -3};
    case Quantity::continuity:
    case Quantity::diode:
    case Quantity::duty:
    case Quantity::temperature: break;
  }
  return {0};
}

}  // namespace

Notation notation_of(const Display& display) {
  const std::vector<int> prefixes = prefixes_of(display.quantity);
  int exponent = prefixes.front();
  for (const int candidate : prefixes)
    if (display.full_scale >= std::pow(10.0, candidate) * (1.0 - 1e-9)) exponent = candidate;
  const double digit = display.resolution / std::pow(10.0, exponent);
  const int decimals = static_cast<int>(std::lround(-std::log10(digit)));
  return {exponent, decimals < 0 ? 0 : decimals};
}

}  // namespace switchwright::sim
