#include "bench/proving.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "switchwright/core/text.hpp"
#include "switchwright/profile/position_words.hpp"

namespace switchwright {

namespace {

/// What a source known to be live shows, at least and at most, volts. On AC it must stand clear of what open leads
/// pick up beside live wires (some volts); on DC a single dry cell will do. Common practice, no source.
constexpr double least_source_ac_v = 10.0;
constexpr double least_source_dc_v = 1.2;
constexpr double most_source_v = 1000.0;
/// Two readings of one source, a moment apart, differ by less than this share (common practice, no source).
constexpr double source_steady_within = 0.1;

const char* kind_of(Quantity function) { return function == Quantity::voltage_dc ? "DC" : "AC"; }

const char* source_of(Quantity function) { return function == Quantity::voltage_dc ? "a DC source" : "an AC source"; }

double least_source_v(Quantity function, double dead_max_v) {
  return std::max(function == Quantity::voltage_dc ? least_source_dc_v : least_source_ac_v, 1.1 * dead_max_v);
}

class ProvingSteps {
 public:
  ProvingSteps(const Profile& profile, int first_number) : profile_(profile), next_number_(first_number) {}

  void prove(StepKind kind, Quantity function) {
    add(kind, {Probes::on_known_source, {}, "", function},
        fmt::format("Set the meter to {} and touch both probes to {} known to be live.{}", dial_words(function),
                    source_of(function), kind == StepKind::prove_meter_again ? " The meter must still show it." : ""));
  }

  void absence(Quantity function, const std::vector<Pair>& pairs) {
    const std::string& off = profile_.positions.front().id;
    const Pair* before = nullptr;
    for (const Pair& pair : pairs) {
      const std::string shared = before ? before->shared_with(pair) : std::string{};
      const std::string where =
          before == nullptr ? fmt::format("{}. Touch {} and {}", stands_at(profile_, off), pair.first(), pair.second())
          : shared.empty()  ? fmt::format("Touch {} and {}", pair.first(), pair.second())
                            : fmt::format("Leave one probe on {}, touch {} with the other", shared,
                                         pair.first() == shared ? pair.second() : pair.first());
      add(StepKind::absence, {Probes::on_pair, pair, off, function},
          fmt::format("{}: there must be no {} voltage.", where, kind_of(function)));
      before = &pair;
    }
  }

  void statement(Quantity function) {
    Step& step =
        add(StepKind::acknowledge, {},
            fmt::format("This meter has no {0}. Another instrument, proven before and after on a known {1} source, "
                        "has shown that there is no {1} voltage between any two terminals, nor from any terminal to "
                        "bare metal.",
                        dial_words(function), kind_of(function)));
    step.acknowledges = absence_statement(function);
  }

  std::vector<Step> take() { return std::move(steps_); }

 private:
  Step& add(StepKind kind, Arrangement arrangement, std::string instruction) {
    Step step;
    step.number = next_number_++;
    step.kind = kind;
    step.arrangement = std::move(arrangement);
    step.instruction = std::move(instruction);
    return steps_.emplace_back(std::move(step));
  }

  const Profile& profile_;
  int next_number_;
  std::vector<Step> steps_;
};

std::vector<Quantity> functions_missing(const MeterDefinition& meter) {
  const auto has = proving_functions(meter);
  std::vector<Quantity> missing;
  for (const Quantity function : {Quantity::voltage_ac, Quantity::voltage_dc})
    if (std::find(has.begin(), has.end(), function) == has.end()) missing.push_back(function);
  return missing;
}

}  // namespace

std::vector<Quantity> proving_functions(const MeterDefinition& meter) {
  std::vector<Quantity> functions;
  for (const Quantity function : {Quantity::voltage_ac, Quantity::voltage_dc})
    if (meter.finest(function) || meter.selects(function)) functions.push_back(function);
  if (functions.empty()) functions = {Quantity::voltage_ac, Quantity::voltage_dc};
  return functions;
}

std::vector<Pair> pairs_that_may_be_live(const Profile& profile) {
  const auto points = profile.nodes();
  std::vector<Pair> pairs;
  for (std::size_t i = 0; i + 1 < points.size(); ++i) {
    const std::size_t from = pairs.size();
    for (std::size_t j = i + 1; j < points.size(); ++j) pairs.emplace_back(points[i], points[j]);
    if (i % 2 == 1) std::reverse(pairs.begin() + static_cast<std::ptrdiff_t>(from), pairs.end());
  }
  return pairs;
}

std::vector<Step> proving_steps(const Profile& profile, const MeterDefinition& meter, int first_number) {
  ProvingSteps steps{profile, first_number};
  const std::vector<Pair> pairs = pairs_that_may_be_live(profile);
  for (const Quantity function : proving_functions(meter)) {
    steps.prove(StepKind::prove_meter, function);
    steps.absence(function, pairs);
    steps.prove(StepKind::prove_meter_again, function);
  }
  for (const Quantity function : functions_missing(meter)) steps.statement(function);
  return steps.take();
}

std::vector<Step> meter_proving_steps(const Profile& profile, const MeterDefinition& meter) {
  ProvingSteps steps{profile, 1};
  for (const Quantity function : proving_functions(meter)) steps.prove(StepKind::prove_meter, function);
  return steps.take();
}

std::string absence_statement(Quantity function) {
  return function == Quantity::voltage_dc ? "no-dc-voltage" : "no-ac-voltage";
}

void ProvingDead::seen(const Step& step, const Reading& reading) {
  if (left_source_ || !source_ || reading.quantity != source_->quantity) return;
  (void)step;
  Indication as_read;
  as_read.state = reading.state;
  as_read.value = reading.value;
  left_source_ = !still_on_source(as_read);
}

bool ProvingDead::still_on_source(const Indication& indication) const {
  return source_ && indication.state == ReadingState::finite &&
         std::abs(std::abs(indication.value) - std::abs(source_->value)) <=
             source_steady_within * std::abs(source_->value);
}

std::optional<Trouble> ProvingDead::objection(const Step& step, const Indication& indication) const {
  using Then = Trouble::Then;
  const bool finite = indication.state == ReadingState::finite;
  const double volts = std::abs(indication.value);
  const Quantity function = step.arrangement.dial;
  const std::string value =
      finite ? human_value(indication.value, indication.quantity, indication.resolution) : "over-range";
  if (step.kind == StepKind::absence) {
    if (finite && volts <= dead_max_v_) return std::nullopt;
    // A second key press, the probes not moved yet: that is the source, not the part.
    if (!unattended_ && !left_source_ && still_on_source(indication))
      return Trouble{
          Then::stay, "still-on-source",
          fmt::format("The meter still shows the {} of the known source, and has shown it all the time: take the "
                      "probes off the source and touch {} and {}.",
                      value, step.arrangement.pair.first(), step.arrangement.pair.second())};
    return Trouble{
        Then::close, "volts-present",
        fmt::format("{} is present on {} ({} at most is taken as dead). Resistance work is stopped: take the "
                    "probes off, disconnect the part and prove it dead; then begin a new record.",
                    value, step.arrangement.pair.text(), human_value(dead_max_v_, indication.quantity))};
  }
  const double least_v = least_source_v(function, dead_max_v_);
  if (finite && volts >= least_v && volts <= most_source_v) return std::nullopt;
  const std::string shows = fmt::format("The meter shows {} on {} known to be live; from {:g} to {:g} V would prove it",
                                        value, source_of(function), least_v, most_source_v);
  if (unattended_) return Trouble{Then::stop, "meter", shows + ": it is not proven. Do not go on with it."};
  return Trouble{
      Then::stay, "meter-not-proven",
      shows +
          ". Check source, leads, dial and fuse, set the meter to autorange, then try again; without a proven "
          "meter the part cannot be called dead."};
}

void ProvingDead::keep(const Step& step, const Indication& indication) {
  if (step.kind == StepKind::absence) return;
  source_ = indication;
  left_source_ = false;
}

ProvingDead::Summary ProvingDead::summary() const {
  Summary summary;
  for (const Quantity function : functions_missing(meter_)) {
    const auto by = std::find_if(stated_.begin(), stated_.end(),
                                 [&](const auto& one) { return one.first == absence_statement(function); });
    if (by != stated_.end()) {
      summary.remarks.push_back(
          fmt::format("That there is no {} voltage on the part is stated by {}, not tested: this meter "
                      "has no {}.",
                      kind_of(function), by->second.empty() ? "the operator" : by->second, dial_words(function)));
      continue;
    }
    summary.proven = false;
    summary.remarks.push_back(fmt::format(
        "Absence of {} voltage was not tested (this meter has no {}), nor stated: the part is not proven dead. Use a meter "
        "that has it, or test with another instrument and state it (--acknowledge {}).",
        kind_of(function), dial_words(function), absence_statement(function)));
  }
  return summary;
}

}  // namespace switchwright
