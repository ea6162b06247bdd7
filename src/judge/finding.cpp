#include "switchwright/judge/finding.hpp"

#include <algorithm>

namespace switchwright {

std::string to_string(Outcome outcome) {
  switch (outcome) {
    case Outcome::pass: return "pass";
    case Outcome::fail: return "fail";
    case Outcome::undecided: return "undecided";
  }
  return "undecided";
}

void conclude(Verdict& verdict) {
  const Conclusion conclusion = conclude(verdict.scope, verdict.required);
  verdict.outcome = conclusion.outcome;
  verdict.headline = conclusion.headline;
}

std::string title_of(const Verdict& verdict) {
  const Conclusion conclusion = conclude(verdict.scope, verdict.required);
  if (conclusion.outcome == verdict.outcome) return conclusion.title;
  // A record of a version that kept no scope, or one that somebody bent: what it covers is not known.
  return verdict.outcome == Outcome::pass   ? "Pass, its scope not recorded"
         : verdict.outcome == Outcome::fail ? "Fail"
                                            : "Undecided";
}

std::string to_string(DecisionRule rule) { return rule == DecisionRule::simple ? "simple" : "guarded"; }
DecisionRule decision_rule(const std::string& word) {
  return word == to_string(DecisionRule::simple) ? DecisionRule::simple : DecisionRule::guarded;
}

std::string to_string(DeviationKind kind) {
  switch (kind) {
    case DeviationKind::stays_open: return "stays-open";
    case DeviationKind::stays_closed: return "stays-closed";
    case DeviationKind::high_resistance: return "high-resistance";
    case DeviationKind::leaks: return "leaks";
    case DeviationKind::out_of_band: return "out-of-band";
    case DeviationKind::dead: return "dead";
    case DeviationKind::live: return "live";
    case DeviationKind::low_voltage: return "low-voltage";
    case DeviationKind::inspection: return "inspection";
  }
  return "inspection";
}

std::string to_string(Witness witness) {
  switch (witness) {
    case Witness::not_needed: return "not-needed";
    case Witness::witnessed: return "witnessed";
    case Witness::stated: return "stated";
    case Witness::missing: return "missing";
  }
  return "missing";
}

namespace {

template <class F>
std::vector<const F*> worst_first(const std::vector<F>& findings) {
  std::vector<const F*> found;
  for (const F& finding : findings)
    if (finding.kind) found.push_back(&finding);
  // Severity counts down from critical; a deviation without one stands last.
  const auto rank = [](const F* f) { return f->severity ? static_cast<int>(*f->severity) : 99; };
  std::stable_sort(found.begin(), found.end(), [&](const F* a, const F* b) { return rank(a) < rank(b); });
  return found;
}

}  // namespace

std::vector<const Finding*> Verdict::deviations() const { return worst_first(findings); }
std::vector<const VoltageFinding*> Verdict::voltage_deviations() const { return worst_first(voltages); }

}  // namespace switchwright
