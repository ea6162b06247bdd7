#include "suit/fit_circuit.hpp"

#include <algorithm>
#include <cmath>
#include <stdexcept>
#include <vector>

#include "switchwright/profile/network.hpp"

namespace switchwright {

namespace {

/// A sound contact; small beside every load, large enough for its drop to stand out of the solver's rounding.
constexpr double contact_ohm = 1e-3;

double power_of(const std::optional<CircuitFigures>& figures, const std::string& element) {
  if (!figures) return 0.0;
  const auto found = figures->element_w.find(element);
  return found == figures->element_w.end() ? 0.0 : found->second;
}

}  // namespace

std::optional<double> profile_load_ohm(const Profile& profile) {
  double siemens = 0.0;
  if (profile.powered)
    for (const PoweredLoad& load : profile.powered->loads)
      if (!load.lamp && load.ohm > 0.0) siemens += 1.0 / load.ohm;
  if (!(siemens > 0.0)) return std::nullopt;
  return 1.0 / siemens;
}

std::optional<CircuitFigures> solve_circuit(const Profile& profile, const std::string& position, double supply_v,
                                            std::optional<double> load_ohm, bool cycled_open) {
  const auto own_ohm = profile_load_ohm(profile);
  if (!own_ohm) return std::nullopt;
  const double scale = load_ohm ? *load_ohm / *own_ohm : 1.0;
  std::vector<std::string> nodes = profile.network_nodes();
  for (const std::string& point : profile.powered->outside)
    if (std::find(nodes.begin(), nodes.end(), point) == nodes.end()) nodes.push_back(point);
  std::vector<Resistor> resistors;
  for (const Contact& contact : profile.contacts)
    if (contact.conducts_at(position) && !(cycled_open && contact.cycles(position)))
      resistors.push_back({contact.id, contact.between.first(), contact.between.second(), contact_ohm});
  for (const Element& element : profile.elements)
    resistors.push_back({element.id, element.between.first(), element.between.second(), element.nominal_ohm});
  for (const PoweredLoad& other : profile.powered->loads)
    resistors.push_back({"load " + other.id, other.between.first(), other.between.second(),
                         other.lamp ? other.ohm : other.ohm * scale});

  std::map<std::string, double> share;
  try {
    share =
        Network{nodes, resistors}.potential_shares(profile.powered->supply.first(), profile.powered->supply.second());
  } catch (const std::invalid_argument&) {
    return std::nullopt;
  }
  const auto volts = [&](const Pair& between) {
    const auto a = share.find(between.first());
    const auto b = share.find(between.second());
    return a == share.end() || b == share.end() ? 0.0 : std::abs(a->second - b->second) * supply_v;
  };
  CircuitFigures figures;
  for (const Contact& contact : profile.contacts)
    if (contact.conducts_at(position) && !(cycled_open && contact.cycles(position)))
      figures.contact_a[contact.id] = volts(contact.between) / contact_ohm;
  for (const Element& element : profile.elements)
    figures.element_w[element.id] = std::pow(volts(element.between), 2.0) / element.nominal_ohm;
  return figures;
}

Warmth warmth_of(const Profile& profile, const std::string& element) {
  const auto load_ohm = profile_load_ohm(profile);
  if (!load_ohm) return Warmth::none;
  for (const Position& position : profile.positions) {
    const bool cycles = std::any_of(profile.contacts.begin(), profile.contacts.end(),
                                    [&](const Contact& c) { return c.cycles(position.id); });
    if (!cycles) continue;
    const double supply_v = profile.powered->voltage_v;
    const double closed_w = power_of(solve_circuit(profile, position.id, supply_v, load_ohm, false), element);
    const double open_w = power_of(solve_circuit(profile, position.id, supply_v, load_ohm, true), element);
    if (!(closed_w > 0.0) || open_w > 0.1 * closed_w) continue;
    // With twice the load resistance a heater across the load stays as warm; one in series gets a quarter.
    const double halved_w = power_of(solve_circuit(profile, position.id, supply_v, 2.0 * *load_ohm, false), element);
    return halved_w > 0.6 * closed_w ? Warmth::supply : Warmth::load;
  }
  return Warmth::none;
}

}  // namespace switchwright
