#include "switchwright/bench/plan.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <utility>

#include "bench/proving.hpp"
#include "switchwright/profile/position_words.hpp"
#include "switchwright/profile/wired.hpp"

namespace switchwright {

std::string de_energised_words() {
  return "The part is disconnected from every supply and cannot be connected by anyone else; stored charge is "
         "discharged; I am trained for this work. Local codes and licensed practice come first.";
}

std::string locked_off_words() {
  return "The part stays wired in its appliance: the appliance is isolated from every supply, locked off and tagged by me, and "
         "every other source that could feed back is off; the metal around it stays closed but for what I must reach. Local codes "
         "and licensed practice come first.";
}

std::string never_connected_words() {
  return "The parts are new and were never connected to a supply; none can be connected here by anyone; I am trained for this "
         "work. Local codes and licensed practice come first.";
}

namespace {

class Planner {
 public:
  explicit Planner(const Profile& profile) : profile_(profile) {}

  Step& add(StepKind kind, Arrangement arrangement, std::string instruction) {
    Step step;
    step.number = next_number();
    step.kind = kind;
    step.arrangement = std::move(arrangement);
    step.instruction = std::move(instruction);
    return steps_.emplace_back(std::move(step));
  }

  /// Steps that were planned elsewhere; they are numbered here.
  void append(std::vector<Step> steps) {
    for (Step& step : steps) {
      step.number = next_number();
      steps_.push_back(std::move(step));
    }
  }
  int next_number() const { return static_cast<int>(steps_.size()) + 1; }

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
                       probes_move ? fmt::format("Probes on {} and {}. {}", placement.pair.first(),
                                                 placement.pair.second(), arrival(position))
                                   : "Leave the probes. " + go_to(profile_, position));
      knob_at_ = position;
      step.expected = expected.at({position, placement.pair});
      step.visit = ++visits_[{position, placement.pair}];
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
  std::map<std::pair<std::string, Pair>, int> visits_;
};

}  // namespace

Step measure_step(const Profile& profile, const Expectation& expected, const std::optional<Pair>& probes_on) {
  Planner plan{profile};
  std::vector<std::string> positions{expected.position};
  const bool stay = probes_on && *probes_on == expected.pair;
  plan.measure({expected.pair, positions, false}, {{{expected.position, expected.pair}, expected}}, stay);
  return plan.take().front();
}

Step apart_step() {
  Step step;
  step.kind = StepKind::leads_apart;
  step.arrangement = {Probes::off, {}, "", Quantity::resistance};
  step.instruction = "Take the probes off and hold the tips apart, touching nothing.";
  return step;
}

std::vector<Step> plan_qualification(const Profile& profile, const std::vector<Expectation>& expected,
                                     const std::vector<Placement>& route, const MeterDefinition& meter) {
  std::map<std::pair<std::string, Pair>, Expectation> by_place;
  for (const auto& expectation : expected)
    by_place.emplace(std::pair{expectation.position, expectation.pair}, expectation);

  Planner plan{profile};
  if (is_wired(profile)) plan.add(StepKind::acknowledge, {}, locked_off_words()).acknowledges = "locked-off";
  plan.add(StepKind::acknowledge, {}, de_energised_words()).acknowledges = "de-energised";
  plan.append(proving_steps(profile, meter, plan.next_number()));
  // Whoever looks closely touches: only now.
  for (const auto& question : profile.inspect) plan.add(StepKind::inspect, {}, question.ask).question = question;
  plan.leads(StepKind::leads_before);
  for (const Placement& placement : route) plan.measure(placement, by_place);
  plan.leads(StepKind::leads_after);
  return plan.take();
}

std::vector<Step> plan_in_sitting(const Profile& profile, const std::vector<Expectation>& expected,
                                  const std::vector<Placement>& route, const MeterDefinition& meter,
                                  bool meter_is_proven, bool leads_are_known) {
  std::map<std::pair<std::string, Pair>, Expectation> by_place;
  for (const auto& expectation : expected)
    by_place.emplace(std::pair{expectation.position, expectation.pair}, expectation);

  Planner plan{profile};
  plan.add(StepKind::acknowledge, {}, never_connected_words()).acknowledges = "never-connected";
  if (!meter_is_proven) plan.append(meter_proving_steps(profile, meter));
  for (const auto& question : profile.inspect) plan.add(StepKind::inspect, {}, question.ask).question = question;
  if (!leads_are_known) plan.leads(StepKind::leads_before);
  for (const Placement& placement : route) plan.measure(placement, by_place);
  plan.leads(StepKind::leads_after);
  return plan.take();
}

}  // namespace switchwright
