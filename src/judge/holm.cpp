#include "switchwright/judge/holm.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>
#include <stdexcept>

namespace switchwright {

namespace {

// Softening and melting voltages from memory (contact theory tables); melting temperatures of the pure metals.
constexpr std::array<ContactMetal, 9> metals{{{"Ag", 0.09, 0.37, 1234.9},
                                              {"Cu", 0.12, 0.43, 1357.8},
                                              {"Au", 0.08, 0.43, 1337.3},
                                              {"W", 0.4, 1.1, 3695.0},
                                              {"Ni", 0.22, 0.65, 1728.0},
                                              {"Pt", 0.25, 0.65, 2041.0},
                                              {"Sn", 0.07, 0.13, 505.0},
                                              {"Al", 0.1, 0.3, 933.0},
                                              {"Fe", 0.19, 0.6, 1811.0}}};

double kelvin(double celsius) {
  const double k = celsius + kelvin_at_0_c;
  if (!(k >= 0.0)) throw std::invalid_argument("a temperature below absolute zero");
  return k;
}

void above_zero(double value, const char* what) {
  if (!(value > 0.0)) throw std::invalid_argument(what);
}

}  // namespace

double spot_temperature_c(double drop_v, double body_c, double lorenz) {
  if (!(drop_v >= 0.0)) throw std::invalid_argument("a voltage drop below 0 V");
  above_zero(lorenz, "a Lorenz number that is not above 0");
  const double body_k = kelvin(body_c);
  return std::sqrt(body_k * body_k + drop_v * drop_v / (4.0 * lorenz)) - kelvin_at_0_c;
}

double drop_for_spot_temperature_v(double spot_c, double body_c, double lorenz) {
  above_zero(lorenz, "a Lorenz number that is not above 0");
  const double spot_k = kelvin(spot_c);
  const double body_k = kelvin(body_c);
  if (!(spot_k >= body_k)) throw std::invalid_argument("a spot colder than the body of the contact");
  return 2.0 * std::sqrt(lorenz * (spot_k * spot_k - body_k * body_k));
}

double constriction_ohm(double resistivity_ohm_m, double radius_m) {
  above_zero(resistivity_ohm_m, "a resistivity that is not above 0");
  above_zero(radius_m, "a radius that is not above 0");
  return resistivity_ohm_m / (2.0 * radius_m);
}

PressedSpot pressed_spot(double resistivity_ohm_m, double hardness_pa, double force_n) {
  above_zero(hardness_pa, "a hardness that is not above 0");
  above_zero(force_n, "a force that is not above 0");
  const double radius_m = std::sqrt(force_n / (std::numbers::pi * hardness_pa));
  return {radius_m, constriction_ohm(resistivity_ohm_m, radius_m)};
}

std::span<const ContactMetal> contact_metals() { return metals; }

std::optional<ContactMetal> contact_metal(std::string_view symbol) {
  const auto found =
      std::find_if(metals.begin(), metals.end(), [&](const ContactMetal& m) { return m.symbol == symbol; });
  if (found == metals.end()) return std::nullopt;
  return *found;
}

}  // namespace switchwright
