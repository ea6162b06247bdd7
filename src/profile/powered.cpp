#include "switchwright/profile/powered.hpp"

#include <algorithm>
#include <cmath>
#include <complex>
#include <functional>
#include <limits>
#include <stdexcept>

#include "profile/parts.hpp"
#include "switchwright/core/error.hpp"

namespace switchwright {

namespace {

constexpr std::size_t most_corner_parts = 12;

const Powered& powered_of(const Profile& profile) {
  if (!profile.powered)
    throw Error(ErrorKind::usage, "this profile says nothing about power", profile.path.string(),
                "add a [powered] part with the supply and the load");
  return *profile.powered;
}

/// Where earth is, as a phasor: the source's minus end at 0, its plus end at 1. Two legs of a three-phase
/// supply stand 120 degrees apart, each 1/sqrt(3) of the voltage between them away from the star point.
std::complex<double> earth_phasor(const Powered& powered) {
  if (powered.earth == "midpoint") return 0.5;
  if (powered.earth == "star") return {0.5, 0.5 / std::sqrt(3.0)};
  return powered.earth == powered.supply.first() ? 1.0 : 0.0;
}

bool is_bonded_metal(const Powered& powered, const std::vector<std::string>& exposed_metal,
                     const std::string& node) {
  return !powered.earth.empty() &&
         std::find(exposed_metal.begin(), exposed_metal.end(), node) != exposed_metal.end();
}

/// A resistor with its two limits.
struct Ranged {
  Resistor resistor;
  double min;
  double max;
};

/// One state of the cycling contacts at one position.
class Circuit {
 public:
  Circuit(const Profile& profile, const std::string& position, const std::vector<std::string>& opened)
      : powered_(&powered_of(profile)), nodes_(profile_parts::powered_network_nodes(profile)) {
    const auto add = [&](const std::string& id, const Pair& between, double nominal, double min, double max) {
      parts_.push_back({{id, between.first(), between.second(), nominal}, min, max});
    };
    for (const Contact& contact : profile.contacts)
      if (contact.conducts_at(position) &&
          std::find(opened.begin(), opened.end(), contact.id) == opened.end())
        add(contact.id, contact.between, 0.0, 0.0, powered_->contact_max_ohm);
    for (const Element& e : profile.elements)
      add(e.id, e.between, e.nominal_ohm, profile_parts::least_ohm(e), profile_parts::most_ohm(e));
    for (const PoweredLoad& load : powered_->loads) {
      const double part = load.tolerance_pct / 100.0;
      add(load.id, load.between, load.ohm, load.ohm * (1.0 - part), load.ohm * (1.0 + part));
    }
  }

  /// Shares of the supply at the corner whose bits say which part is at its most; nominal values without a
  /// corner.
  Network network(std::optional<unsigned> corner) const {
    std::vector<Resistor> resistors;
    for (std::size_t i = 0; i < parts_.size(); ++i) {
      resistors.push_back(parts_[i].resistor);
      if (corner) resistors.back().ohm = (*corner >> i & 1U) ? parts_[i].max : parts_[i].min;
    }
    return Network(nodes_, resistors);
  }
  std::map<std::string, double> shares(const Network& network) const {
    return network.potential_shares(powered_->supply.first(), powered_->supply.second());
  }
  bool corners_are_few() const { return parts_.size() <= most_corner_parts; }
  unsigned corners() const { return 1U << parts_.size(); }

 private:
  const Powered* powered_;
  std::vector<std::string> nodes_;
  std::vector<Ranged> parts_;
};

/// What the corners of one circuit say about every pair: the band of |share| for each.
struct Bands {
  std::vector<std::optional<Interval>> share;  ///< in the order of the pairs; absent: floats
  std::vector<std::optional<double>> nominal;
};

Interval distance_band(double low, double high, std::complex<double> from) {
  const double nearest = std::clamp(from.real(), low, high);
  return {std::abs(nearest - from), std::max(std::abs(low - from), std::abs(high - from))};
}

class PairBands {
 public:
  PairBands(const Profile& profile, std::vector<Pair> pairs)
      : profile_(&profile), powered_(&powered_of(profile)), pairs_(std::move(pairs)) {}

  Bands of(const Circuit& circuit) const {
    const Network network = circuit.network(std::nullopt);
    const auto nominal = circuit.shares(network);
    std::vector<Interval> difference(pairs_.size(), Interval{std::numeric_limits<double>::infinity(),
                                                             -std::numeric_limits<double>::infinity()});
    if (circuit.corners_are_few()) {
      for (unsigned corner = 0; corner < circuit.corners(); ++corner)
        widen(difference, circuit.shares(circuit.network(corner)));
    } else {
      difference.assign(pairs_.size(), Interval{0.0, 1.0});
    }
    Bands bands;
    for (std::size_t i = 0; i < pairs_.size(); ++i) {
      const auto here = difference_at(nominal, pairs_[i]);
      if (here) {
        bands.share.push_back(distance_band(difference[i].min, difference[i].max, reference(pairs_[i])));
        bands.nominal.push_back(std::abs(*here - reference(pairs_[i])));
      } else if (std::isfinite(network.resistance_ohm(pairs_[i].first(), pairs_[i].second()))) {
        bands.share.push_back(
            Interval{0.0, 0.0});  // both float together: nothing drives a current between them
        bands.nominal.push_back(0.0);
      } else {
        bands.share.push_back(std::nullopt);
        bands.nominal.push_back(std::nullopt);
      }
    }
    return bands;
  }

 private:
  bool bonded(const std::string& node) const {
    return is_bonded_metal(*powered_, profile_->exposed_metal, node);
  }
  /// Against bonded metal the share itself is taken and compared with earth; else the difference of the two.
  std::complex<double> reference(const Pair& pair) const {
    const bool first = bonded(pair.first());
    const bool second = bonded(pair.second());
    if (first != second) return earth_phasor(*powered_);
    return 0.0;
  }
  std::optional<double> difference_at(const std::map<std::string, double>& shares, const Pair& pair) const {
    const bool first = bonded(pair.first());
    const bool second = bonded(pair.second());
    if (first && second) return 0.0;
    const auto a = shares.find(first ? pair.second() : pair.first());
    if (a == shares.end()) return std::nullopt;
    if (first || second) return a->second;
    const auto b = shares.find(pair.second());
    if (b == shares.end()) return std::nullopt;
    return a->second - b->second;
  }
  void widen(std::vector<Interval>& difference, const std::map<std::string, double>& shares) const {
    for (std::size_t i = 0; i < pairs_.size(); ++i)
      if (const auto here = difference_at(shares, pairs_[i]))
        difference[i] = {std::min(difference[i].min, *here), std::max(difference[i].max, *here)};
  }

  const Profile* profile_;
  const Powered* powered_;
  std::vector<Pair> pairs_;
};

/// Every combination of open and closed among the contacts that cycle at a position; all closed comes first.
std::vector<std::vector<std::string>> cycling_states(const Profile& profile, const std::string& position) {
  std::vector<std::vector<std::string>> states{{}};
  for (const Contact& contact : profile.contacts) {
    if (!contact.cycles(position)) continue;
    const std::size_t count = states.size();
    for (std::size_t i = 0; i < count; ++i) {
      states.push_back(states[i]);
      states.back().push_back(contact.id);
    }
  }
  return states;
}

std::vector<Interval> merged(std::vector<Interval> bands) {
  std::sort(bands.begin(), bands.end(), [](const Interval& a, const Interval& b) { return a.min < b.min; });
  std::vector<Interval> apart;
  for (const Interval& band : bands) {
    if (apart.empty() || band.min > apart.back().max)
      apart.push_back(band);
    else
      apart.back().max = std::max(apart.back().max, band.max);
  }
  return apart;
}

bool is_load(const Powered& powered, const Pair& pair) {
  return std::any_of(powered.loads.begin(), powered.loads.end(),
                     [&](const PoweredLoad& load) { return !load.lamp && load.between == pair; });
}

/// One end of the load: volts there are volts on the load.
bool joins_the_load(const Powered& powered, const Pair& pair) {
  return std::any_of(powered.loads.begin(), powered.loads.end(), [&](const PoweredLoad& load) {
    return !load.lamp && (pair.has(load.between.first()) || pair.has(load.between.second()));
  });
}

void classify(VoltageExpectation& expected, const Powered& powered) {
  expected.v = {expected.bands.front().min, expected.bands.back().max};
  const bool may_be_dead = expected.bands.front().min <= powered.dead_max_v;
  if (expected.bands.size() > 1)
    expected.state = VoltageState::cycles;
  else if (!may_be_dead)
    expected.state = VoltageState::live;
  else if (expected.nominal_v.value_or(0.0) <= powered.dead_max_v)
    expected.state = VoltageState::dead;
  else
    expected.state = VoltageState::divided;
}

}  // namespace

std::string to_string(VoltageState state) {
  switch (state) {
    case VoltageState::live:
      return "live";
    case VoltageState::dead:
      return "dead";
    case VoltageState::cycles:
      return "cycles";
    case VoltageState::divided:
      return "divided";
    case VoltageState::not_checked:
      return "not-checked";
  }
  return {};
}

std::vector<std::string> powered_nodes(const Profile& profile) {
  std::vector<std::string> nodes = profile.nodes();
  const Powered& powered = powered_of(profile);
  nodes.insert(nodes.end(), powered.outside.begin(), powered.outside.end());
  return nodes;
}

std::vector<VoltageExpectation> voltage_expectations(const Profile& profile) {
  const Powered& powered = powered_of(profile);
  const std::vector<std::string> nodes = powered_nodes(profile);
  std::vector<Pair> pairs;
  for (std::size_t i = 0; i < nodes.size(); ++i)
    for (std::size_t j = i + 1; j < nodes.size(); ++j) pairs.emplace_back(nodes[i], nodes[j]);
  const PairBands pair_bands(profile, pairs);

  std::vector<VoltageExpectation> all;
  for (const Position& position : profile.positions) {
    std::vector<Bands> states;
    for (const auto& opened : cycling_states(profile, position.id))
      states.push_back(pair_bands.of(Circuit(profile, position.id, opened)));
    for (std::size_t i = 0; i < pairs.size(); ++i) {
      VoltageExpectation expected;
      expected.position = position.id;
      expected.pair = pairs[i];
      if (const NotChecked* item = profile_parts::left_out(profile, position.id, pairs[i])) {
        expected.reason = item->reason;
      } else if (std::any_of(states.begin(), states.end(), [&](const Bands& b) { return !b.share[i]; })) {
        expected.reason =
            "nothing conducts between one of the two and the supply: it floats, and a meter of high "
            "impedance shows "
            "stray volts there that mean nothing";
        expected.stray_max_v = 0.25 * powered.voltage_v;
        expected.live_is_critical = joins_the_load(powered, pairs[i]) || profile.is_exposed_metal(pairs[i].first()) ||
                                    profile.is_exposed_metal(pairs[i].second());
      } else {
        for (const Bands& bands : states) {
          Interval band{powered.supply_v.min * bands.share[i]->min,
                        powered.supply_v.max * bands.share[i]->max};
          if (band.min <= powered.dead_max_v) band = {0.0, std::max(band.max, powered.dead_max_v)};
          expected.bands.push_back(band);
        }
        expected.bands = merged(std::move(expected.bands));
        expected.nominal_v = powered.voltage_v * *states.front().nominal[i];
        classify(expected, powered);
        const bool feeds = is_load(powered, pairs[i]) || profile.is_exposed_metal(pairs[i].first()) ||
                           profile.is_exposed_metal(pairs[i].second());
        expected.live_is_critical = expected.state == VoltageState::dead && feeds;
      }
      all.push_back(std::move(expected));
    }
  }
  return all;
}

bool can_be_read(const VoltageExpectation& expected) {
  return expected.state != VoltageState::not_checked || expected.stray_max_v.has_value();
}

PoweredSwitch::PoweredSwitch(const Profile& profile, const std::string& position, const PartValues& values,
                             const std::vector<Fault>& faults, const std::vector<std::string>& opened)
    : powered_(&powered_of(profile)),
      exposed_metal_(profile.exposed_metal),
      network_(profile_parts::powered_network_nodes(profile), [&] {
        auto resistors = profile_parts::faulted_resistors(profile, position, values, faults, opened);
        for (const PoweredLoad& load : powered_of(profile).loads)
          resistors.push_back({load.id, load.between.first(), load.between.second(), load.ohm});
        return resistors;
      }()) {
  // Ten milliohms across the mains is as good as none: the protection opens.
  const double across = network_.resistance_ohm(powered_->supply.first(), powered_->supply.second());
  shorted_ = across <= 2.0 * values.closed_contact_ohm;
  if (!shorted_) shares_ = network_.potential_shares(powered_->supply.first(), powered_->supply.second());
}

std::optional<double> PoweredSwitch::volts(const std::string& a, const std::string& b,
                                           double supply_v) const {
  if (shorted_) return std::nullopt;
  const auto phasor = [&](const std::string& node) -> std::optional<std::complex<double>> {
    if (is_bonded_metal(*powered_, exposed_metal_, node)) return earth_phasor(*powered_);
    const auto found = shares_.find(node);
    if (found == shares_.end()) return std::nullopt;
    return found->second;
  };
  const auto first = phasor(a);
  const auto second = phasor(b);
  if (first && second) return supply_v * std::abs(*first - *second);
  if (!first && !second && std::isfinite(network_.resistance_ohm(a, b))) return 0.0;
  return std::nullopt;
}

}  // namespace switchwright
