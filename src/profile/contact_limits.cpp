#include "switchwright/profile/contact_limits.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <stdexcept>

#include "profile/parts.hpp"
#include "switchwright/profile/network.hpp"

namespace switchwright {

namespace {

/// Below this share of the rated current a contact is no contact of the load.
constexpr double lamp_share = 0.01;

/// The most that a contact carries over all positions, with every load of the powered circuit as the profile has it;
/// absent where the circuit cannot be solved or never reaches the contact.
std::optional<double> powered_current_a(const Profile& profile, const Contact& contact) {
  if (!profile.powered) return std::nullopt;
  constexpr double solver_ohm = 1e-3;  // small beside every load, large enough to stand out of the solver's rounding
  std::optional<double> most;
  for (const Position& position : profile.positions) {
    if (!contact.conducts_at(position.id)) continue;
    profile_parts::PartOhms ohms{solver_ohm, std::numeric_limits<double>::infinity(), profile_parts::nominal_ohm};
    std::vector<Resistor> resistors = profile_parts::resistors(profile, position.id, ohms);
    for (const PoweredLoad& load : profile.powered->loads)
      resistors.push_back({"load " + load.id, load.between.first(), load.between.second(), load.ohm});
    try {
      const auto share = Network{profile_parts::powered_network_nodes(profile), resistors}.potential_shares(
          profile.powered->supply.first(), profile.powered->supply.second());
      const auto a = share.find(contact.between.first());
      const auto b = share.find(contact.between.second());
      if (a == share.end() || b == share.end()) continue;
      const double amps = std::abs(a->second - b->second) * profile.powered->voltage_v / solver_ohm;
      most = std::max(most.value_or(0.0), amps);
    } catch (const std::invalid_argument&) {
      continue;  // nothing is joined to the supply at this position
    }
  }
  return most;
}

const Contact& contact_named(const Profile& profile, const std::string& id) {
  for (const Contact& contact : profile.contacts)
    if (contact.id == id) return contact;
  throw std::out_of_range("the profile has no contact \"" + id + "\"");
}

}  // namespace

double carried_a(const Profile& profile, const Contact& contact) {
  if (contact.current_a) return *contact.current_a;
  const double rated_a = profile.rating.current_a;
  const auto amps = powered_current_a(profile, contact);
  return amps && *amps > 0.0 && *amps < lamp_share * rated_a ? *amps : rated_a;
}

std::optional<double> sound_max_v(const Profile& profile, const Contact& contact) {
  if (contact.sound_max_mv) return *contact.sound_max_mv * 1e-3;
  if (profile.limits.sound_max_mv) return *profile.limits.sound_max_mv * 1e-3;
  if (!(profile.rating.current_a > 0.0)) return std::nullopt;
  return profile.limits.sound_max_ohm * profile.rating.current_a;
}

double sound_max_ohm(const Profile& profile, const Contact& contact) {
  const double amps = carried_a(profile, contact);
  const auto volts = sound_max_v(profile, contact);
  const double ohm = volts && amps > 0.0 ? *volts / amps : profile.limits.sound_max_ohm;
  return std::min(ohm, profile.limits.closed_max_ohm);
}

double sound_max_ohm(const Profile& profile, const std::string& contact) {
  return sound_max_ohm(profile, contact_named(profile, contact));
}

double strictest_sound_ohm(const Profile& profile) {
  double least = std::numeric_limits<double>::infinity();
  for (const Contact& contact : profile.contacts) least = std::min(least, sound_max_ohm(profile, contact));
  return least;
}

}  // namespace switchwright
