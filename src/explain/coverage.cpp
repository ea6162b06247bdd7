#include "switchwright/explain/coverage.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <map>
#include <optional>

#include "explain/eyes.hpp"
#include "explain/weigh.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/explain/set_cover.hpp"
#include "switchwright/judge/wording.hpp"
#include "switchwright/profile/network.hpp"

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
      : judged_as_(profile),
        meter_(meter),
        settings_(settings),
        predictor_(profile),
        eyes_(meter, no_leads_, contact_spread_ohm) {
    for (const Expectation& e : expected)
      if (e.state != PairState::not_checked) expected_.push_back(e);
    for (Element& element : judged_as_.elements) element.outside = false;
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
          scenario.node[predictor_.node_index(e.pair.first())], scenario.node[predictor_.node_index(e.pair.second())]));
    return ohm;
  }

  /// The places where one contact alone reads wrongly, being closed or open at this position alone.
  std::vector<std::size_t> shows_contact(std::size_t contact, std::size_t position) const {
    const Scenario scenario = predictor_.scenario({});
    std::vector<double> values;
    for (const Unknown& unknown : scenario.unknowns) values.push_back(unknown.nominal_ohm);
    std::string conducting = scenario.networks[scenario.network_at[position]].sound;
    conducting[contact] = conducting[contact] == '1' ? '0' : '1';
    Ohms network = predictor_.contacts_only(conducting, Predictor::Level::usual);
    for (std::size_t u = 0; u < values.size(); ++u)
      network.add(scenario.unknowns[u].from, scenario.unknowns[u].to, values[u]);
    std::vector<std::size_t> found;
    for (std::size_t i = 0; i < expected_.size(); ++i)
      if (predictor_.position_index(expected_[i].position) == position &&
          fails(i, network(predictor_.node_index(expected_[i].pair.first()),
                           predictor_.node_index(expected_[i].pair.second()))))
        found.push_back(i);
    return found;
  }

  std::vector<std::size_t> shows(const std::vector<double>& ohm) const {
    std::vector<std::size_t> found;
    for (std::size_t i = 0; i < expected_.size(); ++i)
      if (fails(i, ohm[i])) found.push_back(i);
    return found;
  }

  /// Would this reading be judged a failure?
  bool fails(std::size_t place, double ohm) const {
    return judge(expected_[place], eyes_.indication(ohm), Witness::stated, judged_as_, meter_, no_leads_, settings_)
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
  Profile judged_as_;  ///< a reading that shows a fault shows it, whoever else may be to blame (judge/wired.hpp)
  const MeterDefinition& meter_;
  JudgeSettings settings_;
  /// A plan is judged, not a part: nothing is measured yet.
  Leads no_leads_{.ideal = true};
  Predictor predictor_;
  Eyes eyes_;
  std::vector<Expectation> expected_;
};

/// @param predictions what each fault makes every place read, added in the same order
std::vector<CoveredFault> shown_faults(const Profile& profile, const Table& table,
                                       std::vector<std::vector<double>>& predictions) {
  std::vector<CoveredFault> faults;
  for (const Hypothesis& single : hypotheses(profile, {}, {}, false)) {
    if (single.good()) continue;
    for (const Hypothesis& h : with_values(single, profile)) {
      CoveredFault fault;
      fault.hypothesis = h;
      predictions.push_back(table.predicted(h));
      fault.detected_by = table.shows(predictions.back());
      faults.push_back(std::move(fault));
    }
  }
  return faults;
}

Coverage coverage_of(const Profile& profile, const Table& table) {
  Coverage result;
  result.places = table.places();
  std::vector<std::vector<double>> predictions{table.predicted({})};
  result.faults = shown_faults(profile, table, predictions);
  for (std::size_t x = 0; x < result.faults.size(); ++x) {
    if (!table.told_apart(predictions[x + 1], predictions[0])) result.faults[x].same_readings_as.push_back("none");
    for (std::size_t y = 0; y < result.faults.size(); ++y)
      if (x != y && !table.told_apart(predictions[x + 1], predictions[y + 1]))
        result.faults[x].same_readings_as.push_back(to_string(result.faults[y].hypothesis));
  }
  return result;
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
  const auto take = [&](const Place& place) {
    if (std::find(places.begin(), places.end(), place) == places.end()) places.push_back(place);
  };
  std::vector<char> element_seen(profile.elements.size(), 0);
  for (const Expectation& e : expected) {
    if (e.state == PairState::not_checked) continue;
    const Place here{e.position, e.pair};
    if (profile.is_exposed_metal(e.pair.first()) || profile.is_exposed_metal(e.pair.second())) take(here);
    for (const Contact& contact : profile.contacts)
      if (contact.between == e.pair) take(here);
    for (std::size_t i = 0; i < element_seen.size(); ++i)
      if (!element_seen[i] && profile.elements[i].between == e.pair && e.state == PairState::element) {
        element_seen[i] = 1;
        take(here);
      }
  }
  for (const Contact& contact : profile.contacts)
    if (const auto place = shows(profile, contact, expected)) take(*place);
  return places;
}

Coverage coverage(const Profile& profile, const std::vector<Expectation>& expected, const MeterDefinition& meter,
                  const JudgeSettings& settings) {
  return coverage_of(profile, Table(profile, expected, meter, settings));
}

std::vector<CoveredFault> faults_shown(const Profile& profile, const std::vector<Expectation>& expected,
                                       const MeterDefinition& meter, const JudgeSettings& settings) {
  std::vector<std::vector<double>> predictions;
  return shown_faults(profile, Table(profile, expected, meter, settings), predictions);
}

ShortPlan short_plan(const Profile& profile, const std::vector<Expectation>& expected, const MeterDefinition& meter,
                     const JudgeSettings& settings) {
  const Table table(profile, expected, meter, settings);
  const Coverage full = coverage_of(profile, table);
  ShortPlan plan;
  std::vector<char> taken(full.places.size(), 0);
  const std::vector<Place> always = never_left_out(profile, expected);
  for (std::size_t place = 0; place < taken.size(); ++place)
    taken[place] = std::find(always.begin(), always.end(), full.places[place]) != always.end();
  const auto shown = [&](const std::vector<std::size_t>& by) {
    return std::any_of(by.begin(), by.end(), [&](std::size_t place) { return taken[place] != 0; });
  };
  // What the readings that are never left out do not show, one way or another, is to be covered by the fewest others.
  std::vector<std::vector<std::size_t>> detects(full.places.size());
  std::size_t to_cover = 0, singles = 0;
  const auto cover_too = [&](const std::vector<std::size_t>& by) {
    if (by.empty() || shown(by)) return;
    for (std::size_t place : by) detects[place].push_back(to_cover);
    ++to_cover;
  };
  for (const CoveredFault& fault : full.faults) {
    if (!fault.detected()) plan.never_detected.push_back(to_string(fault.hypothesis));
    singles += fault.detected();
    cover_too(fault.detected_by);
  }
  for (std::size_t contact = 0; contact < profile.contacts.size(); ++contact)
    for (std::size_t position = 0; position < profile.positions.size(); ++position)
      cover_too(table.shows_contact(contact, position));
  for (const Hypothesis& h : hypotheses(profile, {}, {}, true)) {
    if (h.causes.size() != 2) continue;
    for (const Hypothesis& valued : with_values(h, profile)) {
      const std::vector<double> ohm = table.predicted(valued);
      bool seen = false;
      for (std::size_t place = 0; place < ohm.size() && !seen; ++place)
        seen = taken[place] && table.fails(place, ohm[place]);
      const std::vector<std::size_t> by = seen ? std::vector<std::size_t>{} : table.shows(ohm);
      plan.doubles_detected += seen || !by.empty();
      cover_too(by);
    }
  }
  const Cover cover = smallest_cover(to_cover, detects);
  plan.proven_smallest = cover.exact;
  for (std::size_t place : cover.chosen) taken[place] = 1;
  for (std::size_t place = 0; place < taken.size(); ++place)
    if (taken[place]) plan.places.push_back(full.places[place]);
  plan.left_out = full.places.size() - plan.places.size();
  plan.sentence = fmt::format(
      "The short plan takes {} of {} readings{}: every contact at every position, everything to exposed metal, and the fewest "
      "others with which every single fault ({}) and every double fault ({}) shows that the full plan shows. It leaves {} "
      "untaken.",
      plan.places.size(), full.places.size(), plan.proven_smallest ? "" : " (perhaps not the fewest)", singles,
      plan.doubles_detected, wording::count_of(plan.left_out, "reading"));
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
  const bool fails =
      std::any_of(findings.begin(), findings.end(), [](const Finding& f) { return f.outcome == Outcome::fail; });
  step.failed = fails && d.conforming_probability <= 1.0 - thresholds.fail;
  step.looks_good = !fails && d.conforming_probability >= thresholds.looks_good;
  if (!step.failed) step.next = d.next;
  const double sure = 1.0 - d.conforming_probability;
  if (step.failed)
    step.sentence = fmt::format(
        "Beyond doubt after {}: the part does not keep its limits (probability {}, threshold {:g}); {} not taken.",
        wording::count_of(findings.size(), "reading"), sure > 0.9999 ? "over 0.9999" : fmt::format("{:.4f}", sure),
        thresholds.fail, wording::count_of(still_possible.size(), "reading"));
  else if (step.next)
    step.sentence = fmt::format("Next: {} at {}.", step.next->place.pair.text(), step.next->place.position);
  else
    step.sentence = "No reading that is left would tell more.";
  return step;
}

}  // namespace switchwright
