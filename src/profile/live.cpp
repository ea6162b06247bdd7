#include "profile/live.hpp"

#include <limits>

#include "profile/parts.hpp"

namespace switchwright {

LivePairs::LivePairs(const Profile& profile) : profile_(&profile) {
  constexpr double absent = std::numeric_limits<double>::infinity();
  for (const Position& position : profile.positions)
    contacts_at_.emplace(
        position.id, Network(profile.nodes(),
                             profile_parts::resistors(profile, position.id,
                                                      {0.0, absent, [](const Element&) { return absent; }})));
}

bool LivePairs::could_make_live(const std::string& position, const Pair& pair) const {
  if (profile_->is_exposed_metal(pair.first()) || profile_->is_exposed_metal(pair.second())) return true;
  for (const auto& [other, contacts] : contacts_at_)
    if (other != position && contacts.resistance_ohm(pair.first(), pair.second()) == 0.0) return true;
  return false;
}

}  // namespace switchwright
