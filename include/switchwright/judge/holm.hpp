// How hot is the spot where two contacts touch? R. Holm's relations for metal-to-metal constrictions.
//
// Current is squeezed through a few small spots. The temperature of a spot follows from the voltage across it alone,
// whatever the current, the size of the spot or the metal: T^2 = T0^2 + U^2 / (4 L). What a meter measures across a
// contact also contains film, bulk metal and leads, so a measured drop gives an upper bound of that temperature.
#pragma once

#include <optional>
#include <span>
#include <string_view>

namespace switchwright {

/// V^2/K^2: (pi^2 / 3) (k / e)^2 with the exact k and e of the SI (2019).
inline constexpr double lorenz_number = 2.4430035e-8;
inline constexpr double kelvin_at_0_c = 273.15;

/// Temperature in degC of a spot with `drop_v` across it (V; direct current or rms for slow heating, peak for the
/// hottest moment), the body of the contact at `body_c`. @throws std::invalid_argument for a negative drop or a body
/// below absolute zero.
double spot_temperature_c(double drop_v, double body_c = 20.0, double lorenz = lorenz_number);
/// The reverse: the drop in V at which the spot reaches `spot_c` (not below `body_c`).
double drop_for_spot_temperature_v(double spot_c, double body_c = 20.0, double lorenz = lorenz_number);

/// Resistance in ohm of one round spot of radius `radius_m` (m) between two bodies of the same metal: rho / (2 a).
double constriction_ohm(double resistivity_ohm_m, double radius_m);

/// One spot pressed flat by a force, metal flowing: F = pi a^2 H.
struct PressedSpot {
  double radius_m = 0.0;
  double ohm = 0.0;
};
/// @param hardness_pa contact hardness in Pa; @param force_n in N; all above 0.
PressedSpot pressed_spot(double resistivity_ohm_m, double hardness_pa, double force_n);

/// Drops at which a metal softens and melts. From memory, after Holm's and later tables; the melting column agrees
/// with the relation above within 8 % for Ag, Cu, Au, W, Sn, Al and Fe (Pt up to 11 %, Ni 18 %).
struct ContactMetal {
  std::string_view symbol;
  double softening_v;
  double melting_v;
  double melting_k;  ///< melting temperature, K
};
std::span<const ContactMetal> contact_metals();
/// The metal of that chemical symbol, or nothing.
std::optional<ContactMetal> contact_metal(std::string_view symbol);

}  // namespace switchwright
