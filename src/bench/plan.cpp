#include "switchwright/bench/plan.hpp"

#include "switchwright/profile/position_words.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <map>

namespace switchwright {

std::string de_energised_words() {
  return "The part is disconnected from every supply and cannot be connected by anyone else; stored charge is "
         "discharged; I am trained for this work. Local codes and licensed practice come first.";
}

namespace {

/// Terminals on which absence of voltage is tested, each against the first: if every terminal is at the potential of
/// the first, no two terminals differ.
std::vector<Pair> absence_pairs(const Profile& profile) {
  std::vector<Pair> pairs;
  const auto nodes = profile.nodes();
  for (std::size_t i = 1; i < nodes.size(); ++i) pairs.emplace_back(nodes.front(), nodes[i]);
  return pairs;
}

class Planner {
 public:
  explicit Planner(const Profile& profile) : profile_(profile) {}

  Step& add(StepKind kind, Arrangement arrangement, std::string instruction) {
    Step step;
    step.number = static_cast<int>(steps_.size()) + 1;
    step.kind = kind;
    step.arrangement = std::move(arrangement);
    step.instruction = std::move(instruction);
    return steps_.emplace_back(std::move(step));
  }

  void prove(StepKind kind, Quantity voltage) {
    add(kind, {Probes::on_known_source, {}, "", voltage},
        fmt::format("Set the meter to {} and touch both probes to a source known to be live.{}", dial_words(voltage),
                    kind == StepKind::prove_meter_again ? " The meter must still show it." : ""));
  }

  void absence(const Pair& pair, Quantity voltage) {
    const auto& off = profile_.positions.front();
    add(StepKind::absence, {Probes::on_pair, pair, off.id, voltage},
        fmt::format("{}. Touch {} and {}: there must be no voltage.", stands_at(profile_, off.id), pair.first(),
                    pair.second()));
  }

  void leads(StepKind kind) {
    add(kind, {Probes::shorted, {}, "", Quantity::resistance},
        fmt::format("Set the meter to ohms and hold the two probe tips firmly together{}.",
                    kind == StepKind::leads_after ? " once more" : ""));
  }

  void measure(const Placement& placement, const std::map<std::pair<std::string, Pair>, Expectation>& expected,
               bool probes_stay = false) {
    for (std::size_t i = 0; i < placement.positions.size(); ++i) {
      const auto& position = placement.positions[i];
      const bool probes_move = i == 0 && !probes_stay;
      Step& step = add(StepKind::measure, {Probes::on_pair, placement.pair, position, Quantity::resistance},
                       probes_move ? fmt::format("Probes on {} and {}. {}", placement.pair.first(), placement.pair.second(),
                                                 arrival(position))
                                   : "Leave the probes. " + go_to(profile_, position));
      knob_at_ = position;
      step.expected = expected.at({position, placement.pair});
      step.last_of_placement = i + 1 == placement.positions.size();
    }
  }

  std::vector<Step> take() { return std::move(steps_); }

 private:
  /// With new probes: how the knob stands, or how to get it there when it has to move.
  std::string arrival(const std::string& position) const {
    const bool plain = !profile_.position(position) || profile_.position(position)->go.empty();
    return plain || position == knob_at_ ? stands_at(profile_, position) + "." : go_to(profile_, position);
  }

  std::string knob_at_;
  const Profile& profile_;
  std::vector<Step> steps_;
};

}  // namespace

Step measure_step(const Profile& profile, const Expectation& expected, const std::optional<Pair>& probes_on) {
  Planner plan{profile};
  std::vector<std::string> positions{expected.position};
  const bool stay = probes_on && *probes_on == expected.pair;
  plan.measure({expected.pair, positions, false}, {{{expected.position, expected.pair}, expected}}, stay);
  return plan.take().front();
}

std::vector<Step> plan_qualification(const Profile& profile, const std::vector<Expectation>& expected,
                                     const std::vector<Placement>& route, Quantity voltage) {
  std::map<std::pair<std::string, Pair>, Expectation> by_place;
  for (const auto& expectation : expected) by_place.emplace(std::pair{expectation.position, expectation.pair}, expectation);

  Planner plan{profile};
  plan.add(StepKind::acknowledge, {}, de_energised_words()).acknowledges = "de-energised";
  for (const auto& question : profile.inspect) plan.add(StepKind::inspect, {}, question.ask).question = question;
  plan.prove(StepKind::prove_meter, voltage);
  for (const Pair& pair : absence_pairs(profile)) plan.absence(pair, voltage);
  plan.prove(StepKind::prove_meter_again, voltage);
  plan.leads(StepKind::leads_before);
  for (const Placement& placement : route) plan.measure(placement, by_place);
  plan.leads(StepKind::leads_after);
  return plan.take();
}

}  // namespace switchwright
