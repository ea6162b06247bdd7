#include "switchwright/explain/coverage.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <map>
#include <optional>

#include "switchwright/core/text.hpp"
#include "switchwright/profile/network.hpp"
#include "explain/eyes.hpp"
#include "switchwright/explain/set_cover.hpp"
#include "explain/weigh.hpp"
#include "switchwright/judge/wording.hpp"

namespace switchwright {

namespace {

/// The expected log-likelihood ratio, in nats, from which two faults count as told apart.
constexpr double told_apart_nats = 1.0;

/// One fault with a value of its own; an element that can drift both ways gives two.
std::vector<Hypothesis> with_values(const Hypothesis& h, const Profile& profile) {
  std::vector<Hypothesis> all{h};
  for (std::size_t i = 0; i < h.causes.size(); ++i) {
    const Cause& cause = h.causes[i];
    if (cause.kind != CauseKind::fault) continue;
    if (cause.fault.kind == FaultKind::resistive)
      for (Hypothesis& each : all) each.causes[i].fault.value = 5.0 * profile.limits.closed_max_ohm;
    if (cause.fault.kind != FaultKind::drifted) continue;
    double percent = 0.0;
    for (const Element& element : profile.elements)
      if (element.id == cause.fault.id) percent = 2.0 * element.tolerance_pct + 5.0;
    const std::size_t count = all.size();
    for (std::size_t j = 0; j < count; ++j) {
      all[j].causes[i].fault.value = percent;
      all.push_back(all[j]);
      all.back().causes[i].fault.value = -std::min(percent, 50.0);
    }
  }
  return all;
}

/// Predictions and judgements for one profile on one meter.
class Table {
 public:
  Table(const Profile& profile, const std::vector<Expectation>& expected, const MeterDefinition& meter,
        const JudgeSettings& settings)
      : profile_(profile),
        meter_(meter),
        settings_(settings),
        predictor_(profile, profile.limits.sound_max_ohm / 2.0),
        eyes_(meter, no_leads_, contact_spread_ohm(profile)) {
    for (const Expectation& e : expected)
      if (e.state != PairState::not_checked) expected_.push_back(e);
  }

  std::vector<Place> places() const {
    std::vector<Place> all;
    for (const Expectation& e : expected_) all.push_back({e.position, e.pair});
    return all;
  }

  std::vector<double> predicted(const Hypothesis& h) const {
    const Scenario scenario = predictor_.scenario(h.causes);
    std::vector<double> values;
    for (const Unknown& unknown : scenario.unknowns) values.push_back(unknown.nominal_ohm);
    const std::vector<Ohms> networks = scenario.solved(values);
    std::vector<double> ohm;
    for (const Expectation& e : expected_)
      ohm.push_back(networks[scenario.network_at[predictor_.position_index(e.position)]](
          scenario.node[predictor_.node_index(e.pair.first())],
          scenario.node[predictor_.node_index(e.pair.second())]));
    return ohm;
  }

  /// Would this reading be judged a failure?
  bool fails(std::size_t place, double ohm) const {
    return judge(expected_[place], eyes_.indication(ohm), Witness::stated, profile_, meter_, no_leads_,
                 settings_)
               .outcome == Outcome::fail;
  }

  bool told_apart(const std::vector<double>& x, const std::vector<double>& y) const {
    double nats = 0.0;
    for (std::size_t i = 0; i < x.size(); ++i) {
      nats += eyes_.divergence(x[i], y[i]);
      if (nats > told_apart_nats) return true;
    }
    return false;
  }

 private:
  const Profile& profile_;
  const MeterDefinition& meter_;
  JudgeSettings settings_;
  /// A plan is judged, not a part: nothing is measured yet.
  Leads no_leads_{.ideal = true};
  Predictor predictor_;
  Eyes eyes_;
  std::vector<Expectation> expected_;
};

Coverage coverage_of(const Profile& profile, const Table& table) {
  Coverage result;
  result.places = table.places();
  std::vector<std::vector<double>> predictions{table.predicted({})};
  for (const Hypothesis& single : hypotheses(profile, {}, {}, false)) {
    if (single.good()) continue;
    for (const Hypothesis& h : with_values(single, profile)) {
      CoveredFault fault;
      fault.hypothesis = h;
      predictions.push_back(table.predicted(h));
      for (std::size_t i = 0; i < result.places.size(); ++i)
        if (table.fails(i, predictions.back()[i])) fault.detected_by.push_back(i);
      result.faults.push_back(std::move(fault));
    }
  }
  for (std::size_t x = 0; x < result.faults.size(); ++x) {
    if (!table.told_apart(predictions[x + 1], predictions[0]))
      result.faults[x].same_readings_as.push_back("none");
    for (std::size_t y = 0; y < result.faults.size(); ++y)
      if (x != y && !table.told_apart(predictions[x + 1], predictions[y + 1]))
        result.faults[x].same_readings_as.push_back(to_string(result.faults[y].hypothesis));
  }
  return result;
}

/// What is never left out, and the smallest cover of the faults that this does not detect already.
std::vector<std::size_t> chosen_places(const std::vector<Place>& always, const std::vector<Place>& places, std::size_t faults,
                                       const std::vector<std::vector<std::size_t>>& detects, bool& proven_smallest) {
  std::vector<std::size_t> chosen;
  std::vector<bool> detected(faults, false);
  for (std::size_t place = 0; place < places.size(); ++place) {
    if (std::find(always.begin(), always.end(), places[place]) == always.end()) continue;
    chosen.push_back(place);
    for (const std::size_t fault : detects[place]) detected[fault] = true;
  }
  std::vector<std::size_t> number(faults, 0);
  std::size_t left = 0;
  for (std::size_t fault = 0; fault < faults; ++fault)
    if (!detected[fault]) number[fault] = left++;
  std::vector<std::vector<std::size_t>> still(places.size());
  for (std::size_t place = 0; place < places.size(); ++place)
    for (const std::size_t fault : detects[place])
      if (!detected[fault]) still[place].push_back(number[fault]);
  const Cover cover = smallest_cover(left, still);
  proven_smallest = cover.exact;
  chosen.insert(chosen.end(), cover.chosen.begin(), cover.chosen.end());
  std::sort(chosen.begin(), chosen.end());
  return chosen;
}

/// The place that shows a contact with the least in its way; nothing where others bridge it everywhere.
std::optional<Place> shows(const Profile& profile, const Contact& contact, const std::vector<Expectation>& expected) {
  const Expectation* best = nullptr;
  std::map<std::string, Network> without;  // the closed contacts of a position but for this one
  for (const Expectation& e : expected) {
    if (!e.sound_max_ohm || e.state == PairState::not_checked || !contact.conducts_at(e.position)) continue;
    auto at = without.find(e.position);
    if (at == without.end()) {
      std::vector<Resistor> others;
      for (const Contact& other : profile.contacts)
        if (&other != &contact && other.conducts_at(e.position))
          others.push_back({other.id, other.between.first(), other.between.second(), 0.0});
      for (const Element& element : profile.elements)
        others.push_back({element.id, element.between.first(), element.between.second(), element.nominal_ohm});
      at = without.emplace(e.position, Network(profile.network_nodes(), others)).first;
    }
    if (at->second.resistance_ohm(e.pair.first(), e.pair.second()) <= profile.limits.closed_max_ohm) continue;
    if (!best || *e.sound_max_ohm < *best->sound_max_ohm) best = &e;
  }
  if (!best) return std::nullopt;
  return Place{best->position, best->pair};
}

}  // namespace

std::vector<Place> never_left_out(const Profile& profile, const std::vector<Expectation>& expected) {
  std::vector<Place> places;
  for (const Expectation& e : expected)
    if (e.state != PairState::not_checked &&
        (profile.is_exposed_metal(e.pair.first()) || profile.is_exposed_metal(e.pair.second())))
      places.push_back({e.position, e.pair});
  for (const Contact& contact : profile.contacts)
    if (const auto place = shows(profile, contact, expected);
        place && std::find(places.begin(), places.end(), *place) == places.end())
      places.push_back(*place);
  return places;
}

Coverage coverage(const Profile& profile, const std::vector<Expectation>& expected,
                  const MeterDefinition& meter, const JudgeSettings& settings) {
  return coverage_of(profile, Table(profile, expected, meter, settings));
}

ShortPlan short_plan(const Profile& profile, const std::vector<Expectation>& expected,
                     const MeterDefinition& meter, const JudgeSettings& settings) {
  const Table table(profile, expected, meter, settings);
  const Coverage full = coverage_of(profile, table);
  ShortPlan plan;
  std::vector<std::vector<std::size_t>> detects(full.places.size());
  std::size_t faults = 0;
  for (const CoveredFault& fault : full.faults) {
    if (!fault.detected()) {
      plan.never_detected.push_back(to_string(fault.hypothesis));
      continue;
    }
    for (std::size_t place : fault.detected_by) detects[place].push_back(faults);
    ++faults;
  }
  const std::vector<std::size_t> chosen = chosen_places(never_left_out(profile, expected), full.places, faults, detects,
                                                        plan.proven_smallest);
  for (std::size_t place : chosen) plan.places.push_back(full.places[place]);
  plan.left_out = full.places.size() - plan.places.size();

  for (const Hypothesis& h : hypotheses(profile, {}, {}, true)) {
    if (h.causes.size() != 2) continue;
    const std::vector<double> ohm = table.predicted(with_values(h, profile).front());
    const auto fails = [&](std::size_t place) { return table.fails(place, ohm[place]); };
    if (std::any_of(chosen.begin(), chosen.end(), fails)) {
      ++plan.doubles_detected;
      continue;
    }
    for (std::size_t place = 0; place < full.places.size(); ++place)
      if (fails(place)) {
        ++plan.doubles_missed;
        break;
      }
  }
  plan.sentence = fmt::format(
      "The short plan takes {} of {} readings{} and detects every single fault that the full plan detects "
      "({}). It leaves "
      "{} readings untaken and misses {} of {} double faults that the full plan detects.",
      plan.places.size(), full.places.size(), plan.proven_smallest ? " (proven smallest beside what is never left out: exposed metal, and each contact once)" : "", faults,
      plan.left_out, plan.doubles_missed, plan.doubles_detected + plan.doubles_missed);
  return plan;
}

AdaptiveStep adaptive_step(const Profile& profile, const std::vector<Profile>& others,
                           const std::vector<Finding>& findings, const std::vector<Place>& still_possible,
                           const MeterDefinition& meter, const Leads& leads, const FaultPriors& priors,
                           const AdaptiveThresholds& thresholds) {
  ExplainSettings settings;
  settings.least_information_bits = 1e-6;
  settings.most_explanations = 1;
  const Diagnosis d = explain(profile, others, findings, still_possible, meter, leads, priors, settings);
  AdaptiveStep step;
  step.conforming_probability = d.conforming_probability;
  const bool failed = std::any_of(findings.begin(), findings.end(),
                                  [](const Finding& f) { return f.outcome == Outcome::fail; });
  if (!failed && d.conforming_probability >= thresholds.pass) step.outcome = Outcome::pass;
  if (failed && d.conforming_probability <= 1.0 - thresholds.fail) step.outcome = Outcome::fail;
  step.decided = step.outcome != Outcome::undecided;
  if (!step.decided) step.next = d.next;
  const bool pass = step.outcome == Outcome::pass;
  const double sure = pass ? d.conforming_probability : 1.0 - d.conforming_probability;
  if (step.decided)
    step.sentence = fmt::format(
        "Beyond doubt after {}: the part {} its limits (probability {}, threshold {:g}); {} not taken.",
        wording::count_of(findings.size(), "reading"), pass ? "keeps" : "does not keep",
        sure > 0.9999 ? "over 0.9999" : fmt::format("{:.4f}", sure),
        pass ? thresholds.pass : thresholds.fail, wording::count_of(still_possible.size(), "reading"));
  else if (step.next)
    step.sentence = fmt::format("Next: {} at {}.", step.next->place.pair.text(), step.next->place.position);
  else
    step.sentence = "No reading that is left would tell more; the full plan decides.";
  return step;
}

}  // namespace switchwright
