// The steps under power. Live work is kept short and plain: the probes are clipped on before the supply is switched on,
// one probe moves at a time, and the knob is turned once to each position.
#include <fmt/format.h>

#include <algorithm>

#include "switchwright/bench/plan.hpp"
#include "switchwright/core/text.hpp"

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

std::string upper_first(std::string text) {
  if (!text.empty() && text[0] >= 'a' && text[0] <= 'z') text[0] = static_cast<char>(text[0] - 'a' + 'A');
  return text;
}

class PoweredPlan {
 public:
  PoweredPlan(const Profile& profile, int first_number) : profile_(profile), next_number_(first_number) {}

  Step& add(StepKind kind, Arrangement arrangement, std::string instruction) {
    Step step;
    step.number = next_number_++;
    step.kind = kind;
    step.arrangement = std::move(arrangement);
    step.instruction = std::move(instruction);
    return steps_.emplace_back(std::move(step));
  }

  void supply(StepKind kind) {
    const Powered& powered = *profile_.powered;
    const Pair& pair = powered.supply;
    const std::string& off = profile_.positions.front().id;
    Arrangement arrangement{Probes::on_pair, pair, off, Quantity::voltage_ac};
    std::string words;
    if (kind == StepKind::supply_on) {
      arrangement.power = true;
      words = fmt::format(
          "Supply still off: meter on {}, probes clipped to {} and {}, {} at {}. Now switch the supply on. It must read {:g} "
          "to {:g} V.",
          dial_words(Quantity::voltage_ac), pair.first(), pair.second(), profile_.knob, label(off), powered.supply_v.min,
          powered.supply_v.max);
    } else if (kind == StepKind::supply_at_end) {
      words = fmt::format("{} to {}. Probes on {} and {}: the supply once more.", upper_first(profile_.knob), label(off),
                          pair.first(), pair.second());
    } else {
      arrangement.power = false;
      words = "Leave the probes where they are and switch the supply off. The meter must fall to nothing.";
    }
    add(kind, std::move(arrangement), std::move(words));
    previous_ = pair;
  }

  void voltage(const VoltageExpectation& expected, bool knob_turns) {
    const Pair& pair = expected.pair;
    std::string words = knob_turns ? fmt::format("Turn the {} to {}. ", profile_.knob, label(expected.position)) : "";
    const std::string shared = previous_.shared_with(pair);
    if (pair == previous_)
      words += "Leave the probes.";
    else if (!shared.empty())
      words += fmt::format("Leave one probe on {}; put the other on {}.", shared,
                           pair.first() == shared ? pair.second() : pair.first());
    else
      words += fmt::format("Probes on {} and {}.", pair.first(), pair.second());
    add(StepKind::voltage, {Probes::on_pair, pair, expected.position, Quantity::voltage_ac}, std::move(words)).expected_v =
        expected;
    previous_ = pair;
  }

  std::vector<Step>& steps() { return steps_; }

 private:
  std::string label(const std::string& position) const {
    const Position* found = profile_.position(position);
    return found && !found->label.empty() ? found->label : position;
  }

  const Profile& profile_;
  int next_number_;
  Pair previous_;
  std::vector<Step> steps_;
};

}  // namespace

std::vector<Step> plan_powered(const Profile& profile, const std::vector<VoltageExpectation>& expected, int first_number) {
  std::vector<Pair> order = one_probe_at_a_time(powered_nodes(profile));
  PoweredPlan plan{profile, first_number};
  plan.add(StepKind::acknowledge, {}, energised_words()).acknowledges = "energised";
  plan.supply(StepKind::supply_on);
  for (const Position& position : profile.positions) {
    bool knob_turns = &position != &profile.positions.front();
    for (const Pair& pair : order) {
      const auto found = std::find_if(expected.begin(), expected.end(), [&](const VoltageExpectation& e) {
        return e.position == position.id && e.pair == pair;
      });
      if (found == expected.end() || !can_be_read(*found)) continue;
      plan.voltage(*found, knob_turns);
      knob_turns = false;
    }
    if (plan.steps().back().kind == StepKind::voltage) plan.steps().back().last_of_placement = true;
    std::reverse(order.begin(), order.end());  // go on where the probes are
  }
  plan.supply(StepKind::supply_at_end);
  plan.supply(StepKind::supply_off);
  return std::move(plan.steps());
}

}  // namespace switchwright
