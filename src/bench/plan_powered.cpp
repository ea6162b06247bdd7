// The steps under power. A probe moves only with the supply off and seen to be off, unless the person chooses live moves;
// with the probes left in place the knob is turned through all its positions, so that a reading without volts has its
// witness in one with volts. Where it costs nothing, a placement begins and ends with volts: the supply was on throughout.
#include <fmt/format.h>

#include <algorithm>
#include <cstdlib>
#include <limits>
#include <tuple>

#include "bench/proving.hpp"
#include "switchwright/bench/plan.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/profile/position_words.hpp"

namespace switchwright {

std::string energised_words() {
  return "I am qualified to work on live parts. The supply has an isolating transformer or an RCD (GFCI), and the leads are "
         "fused; meter and leads have a measurement category that suits this supply (IEC 61010-2-033); the cover is on, the "
         "vents are clear, and nobody else can touch the part. This tool switches nothing: I switch the supply on and off "
         "myself, and unplug before I touch anything but the probe grips. Local codes and licensed practice come first.";
}

namespace {

/// Neighbours share a probe: row by row through the upper triangle, every second row backwards.
std::vector<Pair> one_probe_at_a_time(const std::vector<std::string>& points) {
  std::vector<Pair> pairs;
  for (std::size_t i = 0; i + 1 < points.size(); ++i) {
    const std::size_t from = pairs.size();
    for (std::size_t j = i + 1; j < points.size(); ++j) pairs.emplace_back(points[i], points[j]);
    if (i % 2 == 1) std::reverse(pairs.begin() + static_cast<std::ptrdiff_t>(from), pairs.end());
  }
  return pairs;
}

/// One pair and what is read there.
struct Stay {
  Pair pair;
  std::vector<const VoltageExpectation*> readings;  ///< in the order of the positions
  bool of_the_supply = false;
};

bool shows_volts(const VoltageExpectation& expected) { return expected.state == VoltageState::live; }

/// The order of the positions at one pair: with volts first and last where that is to be had, then the least turning.
std::vector<const VoltageExpectation*> visit_order(const Profile& profile, const Stay& stay, const std::string& knob_at,
                                                   const RouteCost& cost) {
  const std::size_t n = stay.readings.size();
  std::vector<int> index;
  const auto index_of = [&](const std::string& position) {
    int i = 0;
    for (const Position& each : profile.positions) {
      if (each.id == position) return i;
      ++i;
    }
    return 0;
  };
  const auto turn_s = [&](const std::string& from, const std::string& to) {
    return cost.turn_step_s * std::abs(index_of(from) - index_of(to)) + change_s(profile, from, to);
  };
  using Key = std::tuple<int, double>;
  Key best{std::numeric_limits<int>::max(), 0.0};
  std::vector<const VoltageExpectation*> order = stay.readings;
  const bool all_alike = std::all_of(stay.readings.begin(), stay.readings.end(), [&](const VoltageExpectation* e) {
    return shows_volts(*e) == shows_volts(*stay.readings.front());
  });
  for (std::size_t start = 0; start < n; ++start)
    for (const bool down_first : {true, false}) {
      std::vector<const VoltageExpectation*> trial{stay.readings[start]};
      const auto down = [&] {
        for (std::size_t i = start; i-- > 0;) trial.push_back(stay.readings[i]);
      };
      const auto up = [&] {
        for (std::size_t i = start + 1; i < n; ++i) trial.push_back(stay.readings[i]);
      };
      down_first ? (down(), up()) : (up(), down());
      const int without_volts = all_alike ? 0 : 2 * !shows_volts(*trial.front()) + !shows_volts(*trial.back());
      double seconds = turn_s(knob_at, trial.front()->position);
      for (std::size_t i = 1; i < n; ++i) seconds += turn_s(trial[i - 1]->position, trial[i]->position);
      if (const Key key{without_volts, seconds}; key < best) {
        best = key;
        order = trial;
      }
    }
  return order;
}

std::string list_of(const std::vector<std::string>& names) { return joined_with_and(names); }

class PoweredPlan {
 public:
  PoweredPlan(const Profile& profile, const PoweredPlanSettings& settings)
      : profile_(profile), powered_(*profile.powered), settings_(settings), next_number_(settings.first_number) {
    knob_at_ = profile.positions.front().id;
  }

  void acknowledge() { add(StepKind::acknowledge, {}, energised_words()).acknowledges = "energised"; }

  void prove_dead(const MeterDefinition& meter) {
    for (Step& step : proving_steps(profile_, meter, next_number_)) {
      next_number_ = step.number + 1;
      steps_.push_back(std::move(step));
    }
  }

  /// The bond of each piece of exposed metal: first no volts there, then ohms with the probes left in place.
  void bonds(StepKind kind) {
    for (const std::string& metal : bonded_metal(profile_)) {
      const Pair pair{metal, powered_.earth_point};
      placed_dead(pair, kind == StepKind::bond ? wiring_words() : "");
      add(kind, {Probes::on_pair, pair, "", Quantity::resistance, false},
          fmt::format(
              "Supply off, probes stay: {} now, for the bond of {} to earth. It must read at most {} with the leads.",
              dial_words(Quantity::resistance), metal, human_ohm(powered_.bond_max_ohm)));
    }
  }

  void supply_on() {
    placed_dead(powered_.supply, bonded_metal(profile_).empty() ? wiring_words() : "");
    add(StepKind::supply_on, {Probes::on_pair, powered_.supply, knob_at_, Quantity::voltage_ac, true},
        fmt::format("Probes stay on {} and {}, {}. Switch the supply on. It must read {:g} to {:g} V.",
                    powered_.supply.first(), powered_.supply.second(), stands_at(profile_, knob_at_),
                    powered_.supply_v.min, powered_.supply_v.max));
  }

  void stay(const Stay& stay) {
    bool first = true;
    for (const VoltageExpectation* expected : visit_order(profile_, stay, knob_at_, settings_.cost)) {
      voltage(*expected, first);
      first = false;
    }
    steps_.back().last_of_placement = true;
  }

  /// Between two pairs: off, seen to be off, and still off with the probes on the next one.
  void move_to(const Pair& pair) {
    if (settings_.live_moves || pair == probes_on_) return;
    supply_off();
    placed_dead(pair, "");
  }

  void supply_at_end() {
    move_to(powered_.supply);
    const std::string& rest = profile_.positions.front().id;
    std::string words = settings_.live_moves ? moving_words(powered_.supply) + " The supply once more."
                                             : "Switch the supply on: the supply once more.";
    if (knob_at_ != rest) words = go_to(profile_, rest) + " " + words;
    knob_at_ = rest;
    add(StepKind::supply_at_end, {Probes::on_pair, powered_.supply, rest, Quantity::voltage_ac, true},
        std::move(words));
    supply_off();
  }

  std::vector<Step> take() { return std::move(steps_); }

 private:
  Step& add(StepKind kind, Arrangement arrangement, std::string instruction) {
    Step step;
    step.number = next_number_++;
    step.kind = kind;
    if (arrangement.probes == Probes::on_pair) probes_on_ = arrangement.pair;
    step.arrangement = std::move(arrangement);
    step.instruction = std::move(instruction);
    return steps_.emplace_back(std::move(step));
  }

  void supply_off() {
    add(StepKind::supply_off, {Probes::on_pair, probes_on_, "", Quantity::voltage_ac, false},
        "Leave the probes where they are and switch the supply off. The meter must fall to nothing.");
  }

  void placed_dead(const Pair& pair, const std::string& before) {
    add(StepKind::placed_dead, {Probes::on_pair, pair, "", Quantity::voltage_ac, false},
        before + fmt::format("Supply off: meter on {}. {} There must be no voltage.", dial_words(Quantity::voltage_ac),
                             moving_words(pair)));
  }

  void voltage(const VoltageExpectation& expected, bool first) {
    std::string words;
    if (settings_.live_moves)
      words = moving_words(expected.pair) + " ";
    else
      words = first && !is_on() ? "Probes stay. Switch the supply on. " : "Supply on, probes stay. ";
    if (expected.position != knob_at_)
      words += go_to(profile_, expected.position);
    else
      words += stands_at(profile_, expected.position) + ".";
    knob_at_ = expected.position;
    Step& step = add(StepKind::voltage, {Probes::on_pair, expected.pair, expected.position, Quantity::voltage_ac, true},
                     std::move(words));
    step.expected_v = expected;
  }

  bool is_on() const { return steps_.back().arrangement.power.value_or(false); }

  std::string moving_words(const Pair& pair) const {
    if (pair == probes_on_) return "Probes stay.";
    const std::string shared = probes_on_.first().empty() ? "" : probes_on_.shared_with(pair);
    if (shared.empty()) return fmt::format("Probes on {} and {}.", pair.first(), pair.second());
    return fmt::format("Leave one probe on {}; put the other on {}.", shared,
                       pair.first() == shared ? pair.second() : pair.first());
  }

  std::string wiring_words() const {
    std::string words = fmt::format("Unplugged, wire the part for its test: supply to {} and {}",
                                    powered_.supply.first(), powered_.supply.second());
    for (const PoweredLoad& load : powered_.loads)
      words += fmt::format(", {} between {} and {}", load.id, load.between.first(), load.between.second());
    if (const auto metal = bonded_metal(profile_); !metal.empty()) words += ", earth to " + list_of(metal);
    return words + ". ";
  }

  const Profile& profile_;
  const Powered& powered_;
  const PoweredPlanSettings& settings_;
  int next_number_;
  std::string knob_at_;
  Pair probes_on_;
  std::vector<Step> steps_;
};

/// What is to be read, pair by pair: what says whether the supply is right comes first.
std::vector<Stay> stays_of(const Profile& profile, const std::vector<VoltageExpectation>& expected) {
  std::vector<Stay> stays;
  for (const Pair& pair : one_probe_at_a_time(powered_nodes(profile))) {
    Stay stay{pair, {}, false};
    for (const VoltageExpectation& e : expected)
      if (e.pair == pair && can_be_read(e)) {
        stay.readings.push_back(&e);
        stay.of_the_supply = e.of_the_supply;
      }
    if (!stay.readings.empty()) stays.push_back(std::move(stay));
  }
  std::stable_partition(stays.begin(), stays.end(), [](const Stay& stay) { return stay.of_the_supply; });
  std::stable_partition(stays.begin(), stays.end(),
                        [&](const Stay& stay) { return stay.pair == profile.powered->supply; });
  return stays;
}

}  // namespace

std::vector<Step> plan_powered(const Profile& profile, const std::vector<VoltageExpectation>& expected,
                               const PoweredPlanSettings& settings) {
  PoweredPlan plan{profile, settings};
  plan.acknowledge();
  if (settings.prove_dead_with) plan.prove_dead(*settings.prove_dead_with);
  plan.bonds(StepKind::bond);
  plan.supply_on();
  for (const Stay& stay : stays_of(profile, expected)) {
    plan.move_to(stay.pair);
    plan.stay(stay);
  }
  plan.supply_at_end();
  plan.bonds(StepKind::bond_at_end);
  return plan.take();
}

}  // namespace switchwright
