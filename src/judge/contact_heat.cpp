#include "switchwright/judge/contact_heat.hpp"

#include <fmt/format.h>

#include "switchwright/profile/contact_limits.hpp"

namespace switchwright {

std::optional<ContactHeat> contact_heat(const Profile& profile, const Contact& contact, double contact_ohm) {
  ContactHeat heat;
  heat.current_a = carried_a(profile, contact);
  if (!(heat.current_a > 0.0)) return std::nullopt;
  heat.rated = heat.current_a == profile.rating.current_a;
  const double load_ohm = profile.rating.voltage_v / heat.current_a;
  heat.choked = load_ohm > 0.0 && contact_ohm > load_ohm / 20.0;
  if (heat.choked) heat.current_a = profile.rating.voltage_v / (load_ohm + contact_ohm);
  heat.drop_v = heat.current_a * contact_ohm;
  heat.heat_w = heat.current_a * heat.drop_v;
  return heat;
}

std::string current_words(const ContactHeat& heat) {
  if (heat.choked) return fmt::format("In series with its load, where {:.3g} A are left", heat.current_a);
  return heat.rated ? fmt::format("At the rated {:g} A", heat.current_a)
                    : fmt::format("At the {:.3g} A that it carries", heat.current_a);
}

const Contact* contact_between(const Profile& profile, const Pair& pair) {
  const Contact* found = nullptr;
  for (const Contact& contact : profile.contacts) {
    if (contact.between != pair) continue;
    if (found) return nullptr;
    found = &contact;
  }
  return found;
}

}  // namespace switchwright
