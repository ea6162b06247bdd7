// One concrete switch under power.
#include <algorithm>
#include <cmath>
#include <complex>

#include "profile/parts.hpp"
#include "profile/powered_circuit.hpp"
#include "switchwright/profile/powered.hpp"

namespace switchwright {

namespace {

double middle(const Interval& interval) { return 0.5 * (interval.min + interval.max); }

}  // namespace

PoweredSwitch::PoweredSwitch(const Profile& profile, const std::string& position, const PartValues& values,
                             const std::vector<Fault>& faults, const std::vector<std::string>& opened)
    : profile_(profile), position_(position), values_(values), faults_(faults), opened_(opened) {
  powered_of(profile);
  dark();
}

const PoweredSwitch::Solution& PoweredSwitch::solution(const Lit& lit) const {
  if (const auto known = solved_.find(lit); known != solved_.end()) return known->second;
  const Powered& powered = *profile_.powered;
  auto resistors = profile_parts::faulted_resistors(profile_, position_, values_, faults_, opened_, lit);
  for (const PoweredLoad& load : powered.loads)
    if (!load.strikes_v || std::find(lit.begin(), lit.end(), load.id) != lit.end())
      resistors.push_back({load.id, load.between.first(), load.between.second(), load.ohm});
  Solution found{Network(profile_parts::powered_network_nodes(profile_), resistors), {}, false};
  // Ten milliohms across the mains is as good as none: the protection opens.
  const double across = found.network.resistance_ohm(powered.supply.first(), powered.supply.second());
  found.shorted = across <= 2.0 * values_.closed_contact_ohm;
  if (!found.shorted) found.shares = found.network.potential_shares(powered.supply.first(), powered.supply.second());
  return solved_.emplace(lit, std::move(found)).first->second;
}

/// Lamps whose volts, with all of them dark, reach the middle of their striking limits.
PoweredSwitch::Lit PoweredSwitch::lit_at(double supply_v) const {
  Lit lit;
  const auto& shares = dark().shares;
  const auto look_at = [&](const std::string& id, const Pair& between, const std::optional<Interval>& strikes_v) {
    if (!strikes_v) return;
    const auto a = shares.find(between.first()), b = shares.find(between.second());
    if (a != shares.end() && b != shares.end() && supply_v * std::abs(a->second - b->second) >= middle(*strikes_v))
      lit.push_back(id);
  };
  for (const Element& element : profile_.elements) look_at(element.id, element.between, element.strikes_v);
  for (const PoweredLoad& load : profile_.powered->loads) look_at(load.id, load.between, load.strikes_v);
  return lit;
}

std::optional<double> PoweredSwitch::volts(const std::string& a, const std::string& b, double supply_v) const {
  if (shorts_the_supply()) return std::nullopt;
  const Solution& now = solution(lit_at(supply_v));
  if (now.shorted) return std::nullopt;
  const auto phasor = [&](const std::string& node) -> std::optional<std::complex<double>> {
    if (is_bonded_metal(profile_, node)) return earth_phasor(*profile_.powered);
    const auto found = now.shares.find(node);
    if (found == now.shares.end()) return std::nullopt;
    return found->second;
  };
  const auto first = phasor(a);
  const auto second = phasor(b);
  if (first && second) return supply_v * std::abs(*first - *second);
  if (!first && !second && std::isfinite(now.network.resistance_ohm(a, b))) return 0.0;
  return std::nullopt;
}

}  // namespace switchwright
