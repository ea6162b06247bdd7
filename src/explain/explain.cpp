#include "switchwright/explain/explain.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <memory>

#include "explain/evidence.hpp"
#include "explain/eyes.hpp"
#include "explain/weigh.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/explain/consequence.hpp"
#include "switchwright/explain/diagnosis.hpp"

namespace switchwright {

namespace {

constexpr double infinity = std::numeric_limits<double>::infinity();
/// A hypothesis this many nats behind the best has no share that anyone could see, not even with priors ten times off.
constexpr double out_of_sight = 18.0;
/// How far off the assumed frequencies are taken to be when the answer is tried against them.
constexpr double far_off = 10.0;
/// A bound may lie above what it bounds by as much as the limits of many contacts take away.
constexpr double widest_gap = 60.0;
/// Two hypotheses are told apart when the readings are expected to favour the true one by more than this, in
/// nats.
constexpr double told_apart_nats = 1.0;
/// So it is too when what one of them needs of the sound contacts is this much less likely, in nats.
constexpr double strained_nats = 6.0;
/// Hypotheses that are looked at for what cannot be told apart, and for the next reading.
constexpr std::size_t most_compared = 200;
constexpr std::size_t most_outlooks = 40;

/// A profile of the library with the readings as it meets them.
struct Candidate {
  Predictor predictor;
  std::vector<Datum> data;
  Weigher weigher;
  Evidence evidence;
  Candidate(const Profile& profile, const std::vector<Finding>& findings, const MeterDefinition& meter,
            const Leads& leads, const FaultPriors& priors)
      : predictor(profile),
        data(data_from(findings, predictor, meter, leads, priors)),
        weigher(data),
        evidence(predictor, data) {}
  Candidate(const Candidate&) = delete;
  Candidate& operator=(const Candidate&) = delete;
};

/// A hypothesis with its weight.
struct Weighed {
  const Hypothesis* hypothesis;
  const Candidate* candidate;
  Scenario scenario;
  Fitted fit;
  double score;  ///< log prior + log evidence
  std::vector<Ohms> networks() const { return candidate->evidence.networks(scenario, fit); }
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
    if (unknown.kind == Unknown::Kind::joint) continue;
    const bool contact = unknown.kind == Unknown::Kind::resistive_contact;
    const std::string& id = contact ? profile.contacts[unknown.part].id : profile.elements[unknown.part].id;
    explanation.fitted.push_back({id, w.fit.values[u], w.fit.sigmas[u]});
    if (w.fit.sigmas[u] == infinity) continue;
    for (Cause& cause : explanation.hypothesis.causes) {
      if (cause.kind != CauseKind::fault || cause.fault.id != id || cause.fault.value) continue;
      if (contact && cause.fault.kind == FaultKind::resistive) cause.fault.value = three_figures(w.fit.values[u]);
      if (!contact && cause.fault.kind == FaultKind::drifted)
        cause.fault.value = three_figures(100.0 * (w.fit.values[u] / profile.elements[unknown.part].nominal_ohm - 1.0));
    }
  }
}

/// Every hypothesis that has a share worth seeing, most probable first. Two steps: a bound that costs two networks turns
/// most away; what is left is integrated, the most promising first.
std::vector<Weighed> weigh(const std::vector<Hypothesis>& all, const Candidate& own,
                           const std::vector<std::unique_ptr<Candidate>>& foreign) {
  struct Promising {
    const Hypothesis* hypothesis;
    const Candidate* candidate;
    Scenario scenario;
    double most;  ///< no score is above this
  };
  std::vector<Promising> promising;
  double likely_best = -infinity;  // of the bounds; what is far below it is looked at last and seldom integrated
  for (const Hypothesis& hypothesis : all) {
    const Candidate* candidate = &own;
    if (!hypothesis.good() && hypothesis.causes[0].kind == CauseKind::other_profile)
      for (const auto& other : foreign)
        if (other->predictor.profile().id == hypothesis.causes[0].profile) candidate = other.get();
    const double log_prior = std::log(std::max(hypothesis.prior, 1e-30));
    Scenario scenario = candidate->predictor.scenario(hypothesis.causes);
    const double most = log_prior + candidate->weigher.most_log_evidence(candidate->predictor, scenario,
                                                                         likely_best - widest_gap - log_prior);
    likely_best = std::max(likely_best, most);
    if (most >= likely_best - widest_gap) promising.push_back({&hypothesis, candidate, std::move(scenario), most});
  }
  std::stable_sort(promising.begin(), promising.end(),
                   [](const Promising& x, const Promising& y) { return x.most > y.most; });
  std::vector<Weighed> weighed;
  double best = -infinity;
  for (Promising& p : promising) {
    if (p.most < best - out_of_sight) break;
    Fitted fit = p.candidate->evidence.of(p.scenario, p.candidate->weigher.located(p.scenario));
    const double score = std::log(std::max(p.hypothesis->prior, 1e-30)) + fit.log_evidence;
    best = std::max(best, score);
    if (score > best - out_of_sight)
      weighed.push_back({p.hypothesis, p.candidate, std::move(p.scenario), std::move(fit), score});
  }
  std::stable_sort(weighed.begin(), weighed.end(),
                   [](const Weighed& x, const Weighed& y) { return x.score > y.score; });
  return weighed;
}

/// The same answer with one assumed frequency ten times higher or lower: the good part's, or that of one kind of fault.
Assumed tried_against_priors(const std::vector<Weighed>& weighed) {
  Assumed assumed;
  if (weighed.empty()) return assumed;
  const auto times = [](const Weighed& w, const std::string& kind) {
    if (kind == "good") return w.hypothesis->good() ? 1.0 : 0.0;
    double count = 0.0;
    for (const Cause& cause : w.hypothesis->causes) count += kind_of(cause) == kind;
    return count;
  };
  std::vector<std::string> kinds{"good"};
  for (const Weighed& w : weighed)
    for (const Cause& cause : w.hypothesis->causes)
      if (std::find(kinds.begin(), kinds.end(), kind_of(cause)) == kinds.end()) kinds.push_back(kind_of(cause));
  bool first = true;
  for (const std::string& kind : kinds)
    for (const double factor : {far_off, 1.0 / far_off}) {
      double total = 0.0, of_first = 0.0, most = 0.0;
      std::size_t leader = 0;
      for (std::size_t i = 0; i < weighed.size(); ++i) {
        const double share = std::exp(weighed[i].score - weighed[0].score) * std::pow(factor, times(weighed[i], kind));
        total += share;
        if (i == 0) of_first = share;
        if (share > most * (1.0 + 1e-9)) most = share, leader = i;
      }
      const double p = of_first / total;
      assumed.least_probability = first ? p : std::min(assumed.least_probability, p);
      assumed.most_probability = first ? p : std::max(assumed.most_probability, p);
      first = false;
      if (leader != 0) {
        const std::string name = to_string(*weighed[leader].hypothesis);
        if (std::find(assumed.then_first.begin(), assumed.then_first.end(), name) == assumed.then_first.end())
          assumed.then_first.push_back(name);
      }
    }
  return assumed;
}

std::string range_text(double least, double most) {
  const std::string from = percent_text(least), to = percent_text(most);
  return from == to ? from : fmt::format("{} to {}", from, to);
}

std::string say(const Assumed& assumed, const Diagnosis& d, const FaultPriors& priors) {
  if (d.explanations.empty()) return {};
  const std::string file =
      priors.path.empty() ? "the file of priors" : "profiles/priors/" + priors.path.filename().string();
  std::string text = fmt::format(
      "How often each kind of fault occurs is assumed ({}), not counted. With any one of these figures ten times too high "
      "or too low, the first explanation would have {}",
      file, range_text(assumed.least_probability, assumed.most_probability));
  if (assumed.then_first.empty()) return text + " and still come first.";
  const Explanation& first = d.explanations.front();
  const bool all_alike =
      std::all_of(assumed.then_first.begin(), assumed.then_first.end(), [&](const std::string& name) {
        const auto holds = [&](const std::vector<std::string>& names) {
          return std::find(names.begin(), names.end(), name) != names.end();
        };
        return holds(first.same_readings_as) || holds(first.hides);
      });
  return text + fmt::format(", and {}{} could come first in its place{}.",
                            assumed.then_first.size() > 1 ? "one of " : "", fmt::join(assumed.then_first, ", "),
                            all_alike ? ", which these readings cannot tell from it in any case" : "");
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
                        d.unexplained.size() == 1 ? "reading" : "readings", d.unexplained.size() == 1 ? "it" : "them");
  if (d.next)
    text += fmt::format(" The next reading that tells most: {} at {} ({:.2f} bit).", d.next->place.pair.text(),
                        d.next->place.position, d.next->information_bits);
  return text;
}

}  // namespace

Diagnosis explain(const Profile& profile, const std::vector<Profile>& others, const std::vector<Finding>& findings,
                  const std::vector<Place>& still_possible, const MeterDefinition& meter, const Leads& leads,
                  const FaultPriors& priors, const ExplainSettings& settings) {
  const std::vector<Hypothesis> all = hypotheses(profile, others, priors, settings.doubles);
  const Candidate own(profile, findings, meter, leads, priors);
  std::vector<std::unique_ptr<Candidate>> foreign;
  for (const Hypothesis& hypothesis : all) {
    if (hypothesis.good() || hypothesis.causes[0].kind != CauseKind::other_profile) continue;
    const auto other = std::find_if(others.begin(), others.end(),
                                    [&](const Profile& p) { return p.id == hypothesis.causes[0].profile; });
    foreign.push_back(std::make_unique<Candidate>(*other, findings, meter, leads, priors));
  }
  const std::vector<Weighed> weighed = weigh(all, own, foreign);
  const double best = weighed.empty() ? 0.0 : weighed.front().score;

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
  const Eyes eyes(meter, leads, contact_spread_ohm);

  const auto same_readings = [&](std::size_t x, std::size_t y) {
    if (std::abs(weighed[x].fit.log_evidence - weighed[y].fit.log_evidence) > strained_nats) return false;
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
      if (auto consequence = consequence_of(profile, others, cause)) e.consequences.push_back(std::move(*consequence));
    diagnosis.explanations.push_back(std::move(e));
  }
  if (!weighed.empty())
    for (std::size_t i : weighed[0].fit.strays) diagnosis.unexplained.push_back(weighed[0].candidate->data[i].place);

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
    if (bits >= settings.least_information_bits && (!diagnosis.next || bits > diagnosis.next->information_bits + 1e-9))
      diagnosis.next = NextReading{place, bits};
  }
  diagnosis.assumed = tried_against_priors(weighed);
  diagnosis.assumed.sentence = say(diagnosis.assumed, diagnosis, priors);
  diagnosis.sentence = say(diagnosis);
  return diagnosis;
}

}  // namespace switchwright
