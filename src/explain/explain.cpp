#include "switchwright/explain/explain.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <memory>

#include "switchwright/core/text.hpp"
#include "switchwright/explain/consequence.hpp"
#include "explain/eyes.hpp"
#include "explain/weigh.hpp"

namespace switchwright {

namespace {

constexpr double infinity = std::numeric_limits<double>::infinity();
/// A hypothesis this many nats behind the best has no share that anyone could see.
constexpr double out_of_sight = 25.0;
/// Two hypotheses are told apart when the readings are expected to favour the true one by more than this, in
/// nats.
constexpr double told_apart_nats = 1.0;
/// Hypotheses that are looked at for what cannot be told apart, and for the next reading.
constexpr std::size_t most_compared = 200;
constexpr std::size_t most_outlooks = 40;

/// A profile of the library with the readings as it meets them.
struct Candidate {
  Predictor predictor;
  std::vector<Datum> data;
  Weigher weigher;
  Candidate(const Profile& profile, const std::vector<Finding>& findings, const MeterDefinition& meter,
            const Leads& leads, const FaultPriors& priors)
      : predictor(profile, profile.limits.sound_max_ohm / 2.0),
        data(data_from(findings, predictor, meter, leads, priors)),
        weigher(data) {}
};

/// A hypothesis with its weight.
struct Weighed {
  const Hypothesis* hypothesis;
  const Candidate* candidate;
  Scenario scenario;
  Fitted fit;
  double score;  ///< log prior + log evidence
  std::vector<Ohms> networks() const { return scenario.solved(fit.values); }
};

double predicted_ohm(const Weighed& w, const std::vector<Ohms>& networks, const Place& place) {
  const Predictor& p = w.candidate->predictor;
  return networks[w.scenario.network_at[p.position_index(place.position)]](
      w.scenario.node[p.node_index(place.pair.first())], w.scenario.node[p.node_index(place.pair.second())]);
}

double three_figures(double x) {
  if (x == 0.0 || !std::isfinite(x)) return x;
  const double step = std::pow(10.0, std::floor(std::log10(std::abs(x))) - 2.0);
  // Dividing by a power of ten prints clean where multiplying by its inverse leaves 5.2000000000000002.
  return step >= 1.0 ? std::round(x / step) * step : std::round(x / step) / std::round(1.0 / step);
}

/// The hypothesis with its fitted values filled in, and the list of them.
void report_fit(const Weighed& w, Explanation& explanation) {
  explanation.hypothesis = *w.hypothesis;
  const Profile& profile = w.candidate->predictor.profile();
  for (std::size_t u = 0; u < w.scenario.unknowns.size(); ++u) {
    const Unknown& unknown = w.scenario.unknowns[u];
    const bool contact = unknown.kind == Unknown::Kind::resistive_contact;
    const std::string& id = contact ? profile.contacts[unknown.part].id : profile.elements[unknown.part].id;
    explanation.fitted.push_back({id, w.fit.values[u], w.fit.sigmas[u]});
    if (w.fit.sigmas[u] == infinity) continue;
    for (Cause& cause : explanation.hypothesis.causes) {
      if (cause.kind != CauseKind::fault || cause.fault.id != id || cause.fault.value) continue;
      if (contact && cause.fault.kind == FaultKind::resistive)
        cause.fault.value = three_figures(w.fit.values[u]);
      if (!contact && cause.fault.kind == FaultKind::drifted)
        cause.fault.value =
            three_figures(100.0 * (w.fit.values[u] / profile.elements[unknown.part].nominal_ohm - 1.0));
    }
  }
}

std::string say(const Diagnosis& d) {
  if (d.explanations.empty()) return "There is nothing to explain yet.";
  const Explanation& first = d.explanations.front();
  std::string text =
      fmt::format("Most probable ({:.3g} %): {}.", 100.0 * first.probability, in_words(first.hypothesis));
  if (!first.same_readings_as.empty())
    text += fmt::format(" These readings cannot tell it from {}.", joined_with_and(first.same_readings_as));
  if (!d.unexplained.empty())
    text += fmt::format(" It does not explain {} {}; measure {} again.", d.unexplained.size(),
                        d.unexplained.size() == 1 ? "reading" : "readings",
                        d.unexplained.size() == 1 ? "it" : "them");
  if (d.next)
    text += fmt::format(" The next reading that tells most: {} at {} ({:.2f} bit).",
                        d.next->place.pair.text(), d.next->place.position, d.next->information_bits);
  return text;
}

}  // namespace

Diagnosis explain(const Profile& profile, const std::vector<Profile>& others,
                  const std::vector<Finding>& findings, const std::vector<Place>& still_possible,
                  const MeterDefinition& meter, const Leads& leads, const FaultPriors& priors,
                  const ExplainSettings& settings) {
  const std::vector<Hypothesis> all = hypotheses(profile, others, priors, settings.doubles);
  const Candidate own(profile, findings, meter, leads, priors);
  std::vector<std::unique_ptr<Candidate>> foreign;

  // The list begins with the good part and the single causes, so the bar is high before the doubles come.
  std::vector<Weighed> weighed;
  double best = -infinity;
  for (const Hypothesis& hypothesis : all) {
    const Candidate* candidate = &own;
    if (!hypothesis.good() && hypothesis.causes[0].kind == CauseKind::other_profile) {
      const auto other = std::find_if(others.begin(), others.end(),
                                      [&](const Profile& p) { return p.id == hypothesis.causes[0].profile; });
      foreign.push_back(std::make_unique<Candidate>(*other, findings, meter, leads, priors));
      candidate = foreign.back().get();
    }
    const double log_prior = std::log(std::max(hypothesis.prior, 1e-30));
    const double least = best - out_of_sight - log_prior;
    Scenario scenario = candidate->predictor.scenario(hypothesis.causes);
    Fitted fit = candidate->weigher.fit(scenario, least);
    const double score = log_prior + fit.log_evidence;
    best = std::max(best, score);
    if (score > best - out_of_sight)
      weighed.push_back({&hypothesis, candidate, std::move(scenario), std::move(fit), score});
  }
  std::stable_sort(weighed.begin(), weighed.end(),
                   [](const Weighed& x, const Weighed& y) { return x.score > y.score; });

  Diagnosis diagnosis;
  diagnosis.hypotheses_weighed = all.size();
  double total = 0.0;
  for (const Weighed& w : weighed) total += std::exp(w.score - best);
  const auto probability = [&](const Weighed& w) { return std::exp(w.score - best) / total; };
  for (const Weighed& w : weighed)
    if (w.hypothesis->good()) diagnosis.good_probability = probability(w);

  const std::size_t compared = std::min(weighed.size(), most_compared);
  std::vector<std::vector<Ohms>> networks;
  for (std::size_t i = 0; i < compared; ++i) networks.push_back(weighed[i].networks());
  const Eyes eyes(meter, leads, contact_spread_ohm(profile));

  const auto same_readings = [&](std::size_t x, std::size_t y) {
    double nats = 0.0;
    for (const Datum& d : own.data) {
      nats += eyes.divergence(predicted_ohm(weighed[x], networks[x], d.place),
                              predicted_ohm(weighed[y], networks[y], d.place));
      if (nats > told_apart_nats) return false;
    }
    return true;
  };
  std::vector<char> hidden(compared, 0);  // by an explanation that needs less: named there, not once more
  for (std::size_t i = 0; i < compared && diagnosis.explanations.size() < settings.most_explanations; ++i) {
    const double p = probability(weighed[i]);
    if (i > 0 && p < settings.least_probability) break;
    if (hidden[i]) continue;
    Explanation e;
    e.probability = p;
    e.log_evidence = weighed[i].fit.log_evidence;
    report_fit(weighed[i], e);
    const std::size_t most_causes = std::max<std::size_t>(weighed[i].hypothesis->causes.size(), 1);
    for (std::size_t j = 0; j < compared; ++j) {
      if (j == i || !same_readings(i, j)) continue;
      const Hypothesis& other = *weighed[j].hypothesis;
      const bool needs_more = other.causes.size() > most_causes;
      (needs_more ? e.hides : e.same_readings_as).push_back(to_string(other));
      if (needs_more && j > i) hidden[j] = 1;
    }
    for (const Cause& cause : e.hypothesis.causes)
      if (auto consequence = consequence_of(profile, others, cause))
        e.consequences.push_back(std::move(*consequence));
    diagnosis.explanations.push_back(std::move(e));
  }
  if (!weighed.empty())
    for (const Datum& d : own.data)
      if (d.looks_stray(predicted_ohm(weighed[0], networks[0], d.place)))
        diagnosis.unexplained.push_back(d.place);

  const std::vector<Expectation> expected = expectations(profile);
  for (std::size_t i = 0; i < compared; ++i)
    if (std::all_of(expected.begin(), expected.end(), [&](const Expectation& e) {
          if (e.state == PairState::not_checked) return true;
          const double ohm = predicted_ohm(weighed[i], networks[i], {e.position, e.pair});
          return ohm <= e.ohm.max && (ohm >= e.ohm.min || e.state == PairState::closed);
        }))
      diagnosis.conforming_probability += probability(weighed[i]);

  for (const Place& place : still_possible) {
    std::vector<Outlook> outlooks;
    for (std::size_t i = 0; i < std::min(compared, most_outlooks); ++i) {
      const double ohm = predicted_ohm(weighed[i], networks[i], place);
      outlooks.push_back({probability(weighed[i]), ohm, eyes.u(ohm), eyes.over_range(ohm)});
    }
    const double bits = expected_information_bits(outlooks);
    if (bits >= settings.least_information_bits &&
        (!diagnosis.next || bits > diagnosis.next->information_bits + 1e-9))
      diagnosis.next = NextReading{place, bits};
  }
  diagnosis.sentence = say(diagnosis);
  return diagnosis;
}

}  // namespace switchwright
