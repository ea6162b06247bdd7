#include "profile/powered_circuit.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <map>

#include "profile/parts.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/profile/powered.hpp"

namespace switchwright {

namespace {

constexpr std::size_t most_corner_parts = 12;
constexpr double infinity = std::numeric_limits<double>::infinity();

bool holds(const std::vector<std::string>& names, const std::string& name) {
  return std::find(names.begin(), names.end(), name) != names.end();
}

/// A resistor with its two limits.
struct Ranged {
  Resistor resistor;
  double min;
  double max;
};

class Circuit {
 public:
  Circuit(const Profile& profile, const std::string& position, const CircuitState& state)
      : powered_(&powered_of(profile)), nodes_(profile_parts::powered_network_nodes(profile)) {
    const auto add = [&](const std::string& id, const Pair& between, double nominal, double min, double max) {
      parts_.push_back({{id, between.first(), between.second(), nominal}, min, max});
    };
    const auto lamp_or_not = [&](const std::string& id, const Pair& between, const std::optional<Interval>& strikes_v,
                                 double nominal, double min, double max) {
      if (!strikes_v || holds(state.lit, id)) return add(id, between, nominal, min, max);
      dark_lamps_.push_back({id, between.first(), between.second(), nominal});
    };
    for (const Contact& contact : profile.contacts) {
      if (contact.conducts_at(position) && !holds(state.opened, contact.id))
        add(contact.id, contact.between, 0.0, 0.0, powered_->contact_max_ohm);
      else
        add(contact.id, contact.between, infinity, profile.limits.open_min_ohm, infinity);
    }
    for (const Element& e : profile.elements)
      lamp_or_not(e.id, e.between, e.strikes_v, e.nominal_ohm, profile_parts::least_ohm(e), profile_parts::most_ohm(e));
    for (const PoweredLoad& load : powered_->loads) {
      const double part = load.tolerance_pct / 100.0;
      lamp_or_not(load.id, load.between, load.strikes_v, load.ohm, load.ohm * (1.0 - part), load.ohm * (1.0 + part));
    }
    fix_what_stands_apart();
  }

  Network nominal(bool lamps_conduct = false) const {
    std::vector<Resistor> resistors = fixed_;
    for (const Ranged& part : parts_) resistors.push_back(part.resistor);
    if (lamps_conduct) resistors.insert(resistors.end(), dark_lamps_.begin(), dark_lamps_.end());
    return Network(nodes_, resistors);
  }
  /// The corner whose bits say which part is at its most.
  Network corner(unsigned bits) const {
    std::vector<Resistor> resistors = fixed_;
    for (std::size_t i = 0; i < parts_.size(); ++i) {
      resistors.push_back(parts_[i].resistor);
      resistors.back().ohm = (bits >> i & 1U) ? parts_[i].max : parts_[i].min;
    }
    return Network(nodes_, resistors);
  }
  std::map<std::string, double> shares(const Network& network) const {
    return network.potential_shares(powered_->supply.first(), powered_->supply.second());
  }
  bool has_dark_lamps() const { return !dark_lamps_.empty(); }
  bool corners_are_few() const { return parts_.size() <= most_corner_parts; }
  unsigned corners() const { return 1U << parts_.size(); }

 private:
  /// A coil on a supply of its own has no say in the volts of this one, wherever it is within its limits.
  void fix_what_stands_apart() {
    std::vector<Resistor> all = dark_lamps_;
    for (const Ranged& part : parts_) all.push_back(part.resistor);
    for (Resistor& resistor : all) resistor.ohm = 1.0;
    const Network joined(nodes_, all);
    const auto apart = [&](const Ranged& part) {
      return std::isinf(joined.resistance_ohm(part.resistor.from, powered_->supply.first())) &&
             std::isinf(joined.resistance_ohm(part.resistor.from, powered_->supply.second()));
    };
    for (const Ranged& part : parts_)
      if (apart(part)) fixed_.push_back(part.resistor);
    std::erase_if(parts_, apart);
  }

  const Powered* powered_;
  std::vector<std::string> nodes_;
  std::vector<Ranged> parts_;
  std::vector<Resistor> fixed_;
  std::vector<Resistor> dark_lamps_;
};

Interval distance_band(const Interval& share, std::complex<double> from) {
  const double nearest = std::clamp(from.real(), share.min, share.max);
  return {std::abs(nearest - from), std::max(std::abs(share.min - from), std::abs(share.max - from))};
}

using Shares = std::map<std::string, double>;

/// Against bonded metal the share itself is taken and compared with earth; else the difference of the two.
class Probe {
 public:
  Probe(const Profile& profile, const Pair& pair)
      : pair_(pair),
        earth_(earth_phasor(powered_of(profile))),
        first_(is_bonded_metal(profile, pair.first())),
        second_(is_bonded_metal(profile, pair.second())) {}

  std::complex<double> reference() const { return first_ != second_ ? earth_ : 0.0; }
  std::optional<double> difference(const Shares& shares) const {
    if (first_ && second_) return 0.0;
    const auto a = shares.find(first_ ? pair_.second() : pair_.first());
    if (a == shares.end()) return std::nullopt;
    if (first_ || second_) return a->second;
    const auto b = shares.find(pair_.second());
    if (b == shares.end()) return std::nullopt;
    return a->second - b->second;
  }
  /// The potential of one end, as a phasor.
  std::optional<std::complex<double>> end(bool first, const Shares& shares) const {
    if (first ? first_ : second_) return earth_;
    const auto found = shares.find(first ? pair_.first() : pair_.second());
    if (found == shares.end()) return std::nullopt;
    return found->second;
  }

 private:
  Pair pair_;
  std::complex<double> earth_;
  bool first_;
  bool second_;
};

/// The most that could stand between a pair if whatever floats were joined to whatever does not.
double most_by_a_join(const Profile& profile, const Probe& probe, const Shares& shares) {
  std::vector<std::complex<double>> points;
  for (const auto& [node, share] : shares) points.push_back(share);
  if (!bonded_metal(profile).empty()) points.push_back(earth_phasor(powered_of(profile)));
  const auto first = probe.end(true, shares), second = probe.end(false, shares);
  double most = 0.0;
  for (const auto& a : first ? std::vector{*first} : points)
    for (const auto& b : second ? std::vector{*second} : points) most = std::max(most, std::abs(a - b));
  return most;
}

/// Lamps of a state that have a striking voltage.
struct StrikingLamp {
  std::string id;
  Pair between;
  Interval strikes_v;
};

std::vector<StrikingLamp> striking_lamps(const Profile& profile) {
  std::vector<StrikingLamp> lamps;
  for (const Element& e : profile.elements)
    if (e.strikes_v) lamps.push_back({e.id, e.between, *e.strikes_v});
  for (const PoweredLoad& load : powered_of(profile).loads)
    if (load.strikes_v) lamps.push_back({load.id, load.between, *load.strikes_v});
  return lamps;
}

/// Each lamp is dark, lit, or may be either, by the volts across it while all of them are dark.
std::vector<std::vector<std::string>> lamp_states(const Profile& profile, const std::string& position,
                                                  const std::vector<std::string>& opened) {
  std::vector<std::vector<std::string>> states{{}};
  const std::vector<StrikingLamp> lamps = striking_lamps(profile);
  if (lamps.empty()) return states;
  std::vector<Pair> pairs;
  for (const StrikingLamp& lamp : lamps) pairs.push_back(lamp.between);
  const std::vector<PairBand> bands = pair_bands(profile, position, {opened, {}}, pairs);
  const Interval& supply_v = powered_of(profile).supply_v;
  for (std::size_t i = 0; i < lamps.size(); ++i) {
    const bool solved = bands[i].kind == PairBand::Kind::solved;
    const bool unknown = bands[i].kind == PairBand::Kind::unsolved;
    const bool may_be_lit = unknown || (solved && bands[i].share.max * supply_v.max >= lamps[i].strikes_v.min);
    const bool may_be_dark = unknown || !solved || bands[i].share.min * supply_v.min < lamps[i].strikes_v.max;
    const std::size_t count = states.size();
    for (std::size_t s = 0; s < count && may_be_lit; ++s) {
      if (may_be_dark) states.push_back(states[s]);
      (may_be_dark ? states.back() : states[s]).push_back(lamps[i].id);
    }
  }
  return states;
}

}  // namespace

const Powered& powered_of(const Profile& profile) {
  if (!profile.powered)
    throw Error(ErrorKind::usage, "this profile says nothing about power", profile.path.string(),
                "add a [powered] part with the supply and the load");
  return *profile.powered;
}

/// Two legs of a three-phase supply stand 120 degrees apart, each 1/sqrt(3) of the voltage between them away from the
/// star point.
std::complex<double> earth_phasor(const Powered& powered) {
  if (powered.earth == "midpoint") return 0.5;
  if (powered.earth == "star") return {0.5, 0.5 / std::sqrt(3.0)};
  return powered.earth == powered.supply.first() ? 1.0 : 0.0;
}

bool is_bonded_metal(const Profile& profile, const std::string& node) {
  return profile.powered && !profile.powered->earth.empty() && profile.is_exposed_metal(node);
}

bool is_of_the_supply(const Profile& profile, const Pair& pair) {
  const auto of_it = [&](const std::string& node) {
    return powered_of(profile).supply.has(node) || is_bonded_metal(profile, node);
  };
  return of_it(pair.first()) && of_it(pair.second());
}

std::vector<CircuitState> circuit_states(const Profile& profile, const std::string& position) {
  std::vector<std::vector<std::string>> opened{{}};
  for (const Contact& contact : profile.contacts) {
    if (!contact.cycles(position)) continue;
    const std::size_t count = opened.size();
    for (std::size_t i = 0; i < count; ++i) {
      opened.push_back(opened[i]);
      opened.back().push_back(contact.id);
    }
  }
  std::vector<CircuitState> states;
  for (const auto& contacts : opened)
    for (const auto& lit : lamp_states(profile, position, contacts)) states.push_back({contacts, lit});
  return states;
}

std::vector<PairBand> pair_bands(const Profile& profile, const std::string& position, const CircuitState& state,
                                 const std::vector<Pair>& pairs) {
  const Circuit circuit(profile, position, state);
  const Network network = circuit.nominal();
  const Shares nominal = circuit.shares(network);
  const Shares with_lamps = circuit.has_dark_lamps() ? circuit.shares(circuit.nominal(true)) : nominal;
  std::vector<Probe> probes;
  for (const Pair& pair : pairs) probes.emplace_back(profile, pair);

  std::vector<Interval> difference(pairs.size(), Interval{infinity, -infinity});
  if (circuit.corners_are_few())
    for (unsigned corner = 0; corner < circuit.corners(); ++corner) {
      const Shares shares = circuit.shares(circuit.corner(corner));
      for (std::size_t i = 0; i < pairs.size(); ++i)
        if (const auto here = probes[i].difference(shares))
          difference[i] = {std::min(difference[i].min, *here), std::max(difference[i].max, *here)};
    }

  std::vector<PairBand> bands;
  for (std::size_t i = 0; i < pairs.size(); ++i) {
    PairBand band;
    const auto here = probes[i].difference(nominal);
    if (here) {
      band.nominal = std::abs(*here - probes[i].reference());
    } else if (std::isfinite(network.resistance_ohm(pairs[i].first(), pairs[i].second()))) {
      // Both float together: nothing but leakage drives a current between them.
      difference[i] = {std::min(difference[i].min, 0.0), std::max(difference[i].max, 0.0)};
    } else {
      band.kind = PairBand::Kind::floats;
      band.join = most_by_a_join(profile, probes[i], nominal);
      const auto lit = probes[i].difference(with_lamps);
      if (lit && std::abs(*lit - probes[i].reference()) > 1e-9) band.kind = PairBand::Kind::lamp_only;
    }
    if (band.kind == PairBand::Kind::solved) {
      if (is_of_the_supply(profile, pairs[i]))  // whatever the part is
        band.share = {band.nominal, band.nominal};
      else if (circuit.corners_are_few())
        band.share = distance_band(difference[i], probes[i].reference());
      else
        band.kind = PairBand::Kind::unsolved;
    }
    bands.push_back(band);
  }
  return bands;
}

}  // namespace switchwright
