// What may be hidden in a switch for training: the hypotheses of a diagnosis, each with its unknown values at
// their least and at their most.
#include <algorithm>
#include <cmath>

#include "switchwright/explain/hypothesis.hpp"
#include "switchwright/train/lesson.hpp"

namespace switchwright {

namespace {

/// Faults that anyone should find.
bool is_plain(FaultKind kind) {
  return kind == FaultKind::stuck_closed || kind == FaultKind::stuck_open || kind == FaultKind::open ||
         kind == FaultKind::shorted;
}

constexpr double clearly_out_pct = 10.0;

LessonCase case_of(const Cause& cause, const Fault& least, const Fault& most, const std::string& more = {}) {
  std::string name = to_string(cause);
  return {name + more, in_words(cause), name.substr(0, name.find_first_of(":=")), {least}, {most}, {}};
}

void add_cases(const Profile& profile, const Cause& cause, std::vector<LessonCase>& cases) {
  Fault least = cause.fault;
  Fault most = cause.fault;
  if (cause.kind == CauseKind::other_profile) {
    cases.push_back({to_string(cause), in_words(cause), "profile", {}, {}, cause.profile});
    return;
  }
  if (cause.fault.kind == FaultKind::resistive) {
    least.value = profile.limits.closed_max_ohm;
    most.value = profile.limits.open_min_ohm;
  }
  if (cause.fault.kind != FaultKind::drifted) {
    cases.push_back(case_of(cause, least, most));
    return;
  }
  const auto element = std::find_if(profile.elements.begin(), profile.elements.end(),
                                    [&](const Element& e) { return e.id == cause.fault.id; });
  // Far enough out of its band that a meter sees it.
  const double off_by = (element == profile.elements.end() ? 0.0 : element->tolerance_pct) + clearly_out_pct;
  least.value = -90.0;
  most.value = -std::min(off_by, 89.0);
  cases.push_back(case_of(cause, least, most, "=low"));
  least.value = off_by;
  most.value = 900.0 + off_by;
  cases.push_back(case_of(cause, least, most, "=high"));
}

LessonCase both(const LessonCase& a, const LessonCase& b) {
  return {a.name + " + " + b.name,  a.words + ", and " + b.words, "two",
          {a.least[0], b.least[0]}, {a.most[0], b.most[0]},       {}};
}

}  // namespace

std::vector<LessonCase> lesson_cases(const Profile& profile, const std::vector<Profile>& others, LessonLevel level) {
  std::vector<LessonCase> cases;
  cases.push_back({"none", "nothing is wrong", "none", {}, {}, {}});
  std::vector<LessonCase> plain;
  for (const Hypothesis& hypothesis : hypotheses(profile, others, {}, false)) {
    if (hypothesis.good()) continue;
    const Cause& cause = hypothesis.causes[0];
    const bool found_by_anyone = cause.kind == CauseKind::fault && is_plain(cause.fault.kind);
    if (found_by_anyone) {
      add_cases(profile, cause, plain);
      cases.push_back(plain.back());
    } else if (level == LessonLevel::hard) {
      add_cases(profile, cause, cases);
    }
  }
  // Of a kind together, as a list for a person wants it.
  std::vector<std::string> kinds;
  for (const LessonCase& one : cases)
    if (std::find(kinds.begin(), kinds.end(), one.kind) == kinds.end()) kinds.push_back(one.kind);
  const auto rank = [&](const LessonCase& one) {
    return std::find(kinds.begin(), kinds.end(), one.kind) - kinds.begin();
  };
  std::stable_sort(cases.begin(), cases.end(),
                   [&](const LessonCase& a, const LessonCase& b) { return rank(a) < rank(b); });
  if (level == LessonLevel::hard)
    for (std::size_t i = 0; i < plain.size(); ++i)
      for (std::size_t j = i + 1; j < plain.size(); ++j)
        if (plain[i].most[0].id != plain[j].most[0].id) cases.push_back(both(plain[i], plain[j]));
  return cases;
}

}  // namespace switchwright
