#include "switchwright/profile/powered.hpp"

#include <algorithm>
#include <cmath>

#include "profile/parts.hpp"
#include "profile/powered_circuit.hpp"

namespace switchwright {

namespace {

using Kind = PairBand::Kind;

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

bool has_exposed_metal(const Profile& profile, const Pair& pair) {
  return profile.is_exposed_metal(pair.first()) || profile.is_exposed_metal(pair.second());
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

const char* const floats_because =
    "nothing conducts between one of the two and the supply: it floats, and a meter of high impedance shows stray volts "
    "there that mean nothing";

class PairExpectation {
 public:
  PairExpectation(const Profile& profile, const std::string& position, const Pair& pair)
      : profile_(profile), powered_(powered_of(profile)) {
    expected_.position = position;
    expected_.pair = pair;
    expected_.of_the_supply = is_of_the_supply(profile, pair);
  }

  /// @param states what the pair reads in each state that a good part can be in.
  VoltageExpectation from(const std::vector<PairBand>& states) {
    const auto any = [&](Kind kind) {
      return std::any_of(states.begin(), states.end(), [&](const PairBand& band) { return band.kind == kind; });
    };
    if (any(Kind::lamp_only))
      expected_.reason =
          "nothing but a lamp joins one of the two to the supply, and the meter's own current may light it or not";
    else if (any(Kind::unsolved))
      unsolved();
    else if (std::all_of(states.begin(), states.end(), [](const PairBand& band) { return band.kind == Kind::floats; }))
      floats(states);
    else
      banded(states);
    return std::move(expected_);
  }

  VoltageExpectation left_out(const std::string& reason) {
    expected_.reason = reason;
    return std::move(expected_);
  }

 private:
  void unsolved() {
    expected_.state = VoltageState::unsolved;
    expected_.reason =
        "the circuit has more contacts, elements and loads than are solved here, so what the pair must read is not known";
  }

  void allow_stray(const std::vector<PairBand>& states) {
    for (const PairBand& band : states)
      if (band.kind == Kind::floats) expected_.join_v = std::max(expected_.join_v, band.join * powered_.voltage_v);
    expected_.leak_ohm = profile_.limits.open_min_ohm;
    expected_.stray_max_v =
        std::max(powered_.dead_max_v, leak_shows_v(expected_.join_v, expected_.leak_ohm, usual_input_ohm.min));
  }

  void floats(const std::vector<PairBand>& states) {
    expected_.reason = floats_because;
    allow_stray(states);
    expected_.live_is_critical =
        joins_the_load(powered_, expected_.pair) || has_exposed_metal(profile_, expected_.pair);
  }

  void banded(const std::vector<PairBand>& states) {
    if (std::any_of(states.begin(), states.end(), [](const PairBand& band) { return band.kind == Kind::floats; }))
      allow_stray(states);
    for (const PairBand& state : states) {
      if (state.kind == Kind::floats) {
        expected_.bands.push_back({0.0, *expected_.stray_max_v});
        continue;
      }
      Interval band{powered_.supply_v.min * state.share.min, powered_.supply_v.max * state.share.max};
      if (band.min <= powered_.dead_max_v) band = {0.0, std::max(band.max, powered_.dead_max_v)};
      expected_.bands.push_back(band);
    }
    expected_.bands = merged(std::move(expected_.bands));
    if (states.front().kind == Kind::solved) expected_.nominal_v = powered_.voltage_v * states.front().nominal;
    classify(expected_, powered_);
    expected_.live_is_critical = expected_.state == VoltageState::dead &&
                                 (is_load(powered_, expected_.pair) || has_exposed_metal(profile_, expected_.pair));
  }

  const Profile& profile_;
  const Powered& powered_;
  VoltageExpectation expected_;
};

}  // namespace

std::string to_string(VoltageState state) {
  switch (state) {
    case VoltageState::live: return "live";
    case VoltageState::dead: return "dead";
    case VoltageState::cycles: return "cycles";
    case VoltageState::divided: return "divided";
    case VoltageState::not_checked: return "not-checked";
    case VoltageState::unsolved: return "unsolved";
  }
  return {};
}

double leak_shows_v(double join_v, double leak_ohm, double input_ohm) {
  return join_v * input_ohm / (input_ohm + leak_ohm);
}

std::vector<std::string> powered_nodes(const Profile& profile) {
  std::vector<std::string> nodes = profile.nodes();
  const Powered& powered = powered_of(profile);
  nodes.insert(nodes.end(), powered.outside.begin(), powered.outside.end());
  return nodes;
}

std::vector<std::string> bonded_metal(const Profile& profile) {
  return powered_of(profile).earth.empty() ? std::vector<std::string>{} : profile.exposed_metal;
}

std::vector<std::string> bench_points(const Profile& profile) {
  if (!profile.powered) return profile.nodes();
  std::vector<std::string> points = powered_nodes(profile);
  if (!bonded_metal(profile).empty()) points.push_back(profile.powered->earth_point);
  return points;
}

std::vector<VoltageExpectation> voltage_expectations(const Profile& profile) {
  const std::vector<std::string> nodes = powered_nodes(profile);
  std::vector<Pair> pairs;
  for (std::size_t i = 0; i < nodes.size(); ++i)
    for (std::size_t j = i + 1; j < nodes.size(); ++j) pairs.emplace_back(nodes[i], nodes[j]);

  std::vector<VoltageExpectation> all;
  for (const Position& position : profile.positions) {
    std::vector<std::vector<PairBand>> by_pair(pairs.size());
    for (const CircuitState& state : circuit_states(profile, position.id)) {
      const std::vector<PairBand> bands = pair_bands(profile, position.id, state, pairs);
      for (std::size_t i = 0; i < pairs.size(); ++i) by_pair[i].push_back(bands[i]);
    }
    for (std::size_t i = 0; i < pairs.size(); ++i) {
      PairExpectation expectation(profile, position.id, pairs[i]);
      const NotChecked* item = profile_parts::left_out(profile, position.id, pairs[i]);
      all.push_back(item ? expectation.left_out(item->reason) : expectation.from(by_pair[i]));
    }
  }
  return all;
}

bool can_be_read(const VoltageExpectation& expected) {
  return expected.state != VoltageState::not_checked || expected.stray_max_v.has_value();
}

}  // namespace switchwright
