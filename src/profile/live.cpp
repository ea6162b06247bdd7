#include "profile/live.hpp"

#include <cmath>

#include "profile/parts.hpp"
#include "switchwright/profile/powered.hpp"

namespace switchwright {

LivePairs::LivePairs(const Profile& profile) : profile_(&profile) {
  for (const Position& position : profile.positions)
    contacts_at_.emplace(position.id,
                         Network(profile.network_nodes(), profile_parts::closed_contacts(profile, position.id)));
}

bool LivePairs::could_make_live(const std::string& position, const Pair& pair) const {
  if (profile_->is_exposed_metal(pair.first()) || profile_->is_exposed_metal(pair.second())) return true;
  return profile_->powered ? energises(position, pair) : joined_elsewhere(position, pair);
}

bool LivePairs::joined_elsewhere(const std::string& position, const Pair& pair) const {
  for (const auto& [other, contacts] : contacts_at_)
    if (other != position && contacts.resistance_ohm(pair.first(), pair.second()) == 0.0) return true;
  return false;
}

bool LivePairs::energises(const std::string& position, const Pair& pair) const {
  const Powered& powered = *profile_->powered;
  const std::string& plus = powered.supply.first();
  const std::string& minus = powered.supply.second();
  auto resistors = profile_parts::closed_contacts(*profile_, position);
  for (const Element& e : profile_->elements)
    if (!e.strikes_v) resistors.push_back({e.id, e.between.first(), e.between.second(), e.nominal_ohm});
  for (const PoweredLoad& load : powered.loads)
    if (!load.lamp) resistors.push_back({load.id, load.between.first(), load.between.second(), load.ohm});
  const auto before = Network(profile_parts::powered_network_nodes(*profile_), resistors).potential_shares(plus, minus);

  resistors.push_back({"joined in thought", pair.first(), pair.second(), 0.0});
  const Network joined(profile_parts::powered_network_nodes(*profile_), resistors);
  if (joined.resistance_ohm(plus, minus) == 0.0) return false;  // a short of the supply: protection opens
  const auto after = joined.potential_shares(plus, minus);
  if (after.size() > before.size()) return true;
  const auto live = [&](const std::map<std::string, double>& shares, const PoweredLoad& load) {
    const auto a = shares.find(load.between.first());
    const auto b = shares.find(load.between.second());
    return a != shares.end() && b != shares.end() &&
           std::abs(a->second - b->second) * powered.voltage_v > powered.dead_max_v;
  };
  for (const PoweredLoad& load : powered.loads)
    if (!load.lamp && live(after, load) && !live(before, load)) return true;
  return false;
}

}  // namespace switchwright
