#include "switchwright/judge/stated.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "switchwright/core/text.hpp"
#include "switchwright/judge/conformance.hpp"

namespace switchwright {

namespace {

/// A value with the prefix that a person would use: "500 Mohm", "0.4 mA", "28 K".
std::string amount(double value, StatedQuantity quantity) {
  const std::string unit{unit_of(quantity)};
  if (unit == "K" || unit == "N" || value == 0.0) return fmt::format("{:.4g} {}", value, unit);
  constexpr std::pair<double, const char*> prefixes[] = {{1e9, "G"}, {1e6, "M"},  {1e3, "k"},
                                                         {1.0, ""},  {1e-3, "m"}, {1e-6, "u"}};
  for (const auto& [factor, prefix] : prefixes)
    if (std::abs(value) >= factor) return fmt::format("{:.4g} {}{}", value / factor, prefix, unit);
  return fmt::format("{:.4g} {}", value, unit);
}

std::string must_be(const StatedRequirement& wanted) {
  return wanted.limit.bounded_above() ? "at most " + amount(wanted.limit.max, wanted.quantity)
                                      : "at least " + amount(wanted.limit.min, wanted.quantity);
}

/// Why a statement passes nothing, however good its value; empty when nothing is wrong with it.
std::string doubt(const StatedFinding& finding, const std::string& today) {
  const StatedResult& result = *finding.result;
  if (!finding.U) return "its uncertainty is not known: state it (U=10%), or give U_pct in the profile";
  if (result.instrument.empty()) return "the instrument is not named";
  if (result.due.empty()) return "it is not said until when the instrument's calibration holds";
  if (result.due < today) return "the calibration of the instrument was due on " + result.due;
  return {};
}

StatedFinding judged(const StatedRequirement& wanted, const StatedResult& result, const std::string& today,
                     DecisionRule rule) {
  StatedFinding finding{wanted, result, result.U, Outcome::undecided, {}};
  if (!finding.U && wanted.U_pct && result.value > 0.0) finding.U = result.value * *wanted.U_pct / 100.0;
  const double U = finding.U.value_or(0.0);
  finding.outcome = result.beyond.empty() ? decide(result.value, U, wanted.limit, rule)
                                          : decide_beyond(result.value, U, result.beyond == ">", wanted.limit, rule);
  const std::string is =
      fmt::format("Stated, not measured by this tool: {} ({}) is {}{}{}, and must be {}", wanted.id, wanted.what,
                  result.beyond == ">"   ? "more than "
                  : result.beyond == "<" ? "less than "
                                         : "",
                  amount(result.value, wanted.quantity),
                  finding.U ? fmt::format(" (U {})", amount(*finding.U, wanted.quantity)) : "", must_be(wanted));
  const std::string by =
      fmt::format(" Instrument: {}; calibration due: {}.", result.instrument.empty() ? "not named" : result.instrument,
                  result.due.empty() ? "not stated" : result.due);
  const std::string why = doubt(finding, today);
  if (finding.outcome == Outcome::pass && !why.empty()) {
    finding.outcome = Outcome::undecided;
    finding.sentence = fmt::format("{}: undecided, {}.{}", is, why, by);
  } else if (finding.outcome == Outcome::undecided) {
    finding.sentence = fmt::format("{}: too near the limit to decide{}.{}", is, why.empty() ? "" : "; " + why, by);
  } else {
    finding.sentence =
        fmt::format("{}: {}.{}", is, finding.outcome == Outcome::pass ? "as it must be" : "it fails", by);
  }
  return finding;
}

}  // namespace

std::vector<StatedFinding> judge_stated(const Profile& profile, const std::vector<StatedResult>& results, Wall started,
                                        DecisionRule rule) {
  std::vector<StatedFinding> findings;
  for (const StatedResult& result : results) {
    const auto is_it = [&](const StatedRequirement& wanted) { return wanted.id == result.id; };
    if (std::any_of(profile.stated.begin(), profile.stated.end(), is_it)) continue;
    StatedRequirement unknown;  // the profile was changed since: what was stated is not forgotten, and passes nothing
    unknown.id = result.id;
    findings.push_back(
        {unknown,
         result,
         {},
         Outcome::undecided,
         fmt::format("Stated, not measured by this tool: \"{}\"; the profile has no limit for it.", result.text)});
  }
  for (const StatedRequirement& wanted : profile.stated) {
    bool any = false;
    for (const StatedResult& result : results) {
      if (result.id != wanted.id) continue;
      any = true;
      const Wall at = result.at == Wall{} ? started : result.at;
      findings.push_back(judged(wanted, result, iso8601(at).substr(0, 10), rule));
    }
    if (!any && wanted.required)
      findings.push_back(
          {wanted,
           {},
           {},
           Outcome::undecided,
           fmt::format("{} ({}) must be {} and was not stated.", wanted.id, wanted.what, must_be(wanted))});
  }
  return findings;
}

ScopeItem stated_item(const std::vector<StatedFinding>& findings) {
  Scope scope;
  constexpr ScopePart part = ScopePart::stated;
  std::vector<std::string> failed, open;
  for (const StatedFinding& finding : findings) {
    std::vector<std::string>* list = finding.outcome == Outcome::fail        ? &failed
                                     : finding.outcome == Outcome::undecided ? &open
                                                                             : nullptr;
    if (list && std::find(list->begin(), list->end(), finding.wanted.id) == list->end())
      list->push_back(finding.wanted.id);
  }
  if (!failed.empty())
    scope.fails(part,
                fmt::format("the stated {} break{} the limit", joined_with_and(failed), failed.size() == 1 ? "s" : ""));
  else if (!open.empty())
    scope.undecided(part,
                    fmt::format("the stated {} {} not decided", joined_with_and(open), open.size() == 1 ? "is" : "are"),
                    "Enter value, U, instrument and due date: switchwright qualify --stated.");
  else if (!findings.empty())
    scope.passes(part);
  return scope[part];
}

}  // namespace switchwright
