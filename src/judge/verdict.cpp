// Everything measured, taken together: which opens are witnessed, what the last word on each pair is, what is
// missing, and what a reader must know before trusting the result.
#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <set>
#include <utility>

#include "switchwright/core/text.hpp"
#include "switchwright/judge/judge.hpp"
#include "switchwright/judge/soundness.hpp"
#include "switchwright/judge/wording.hpp"

namespace switchwright {

namespace {

using Spot = std::pair<std::string, Pair>;  // position, pair

/// An over-range reading is witnessed when, in the same placement, another position gave a finite reading. A
/// finite reading above the open limit is no witness: fingers on the probe tips give as much.
Witness witness_of(const Measured& open, const std::vector<Measured>& all, double open_min_ohm) {
  for (const Measured& other : all)
    if (other.placement == open.placement && other.pair == open.pair && other.position != open.position &&
        other.indication.state == ReadingState::finite && other.indication.value < open_min_ohm)
      return Witness::witnessed;
  return open.contact_stated ? Witness::stated : Witness::missing;
}

void remark_on_leads(const Leads& leads, std::vector<std::string>& remarks) {
  const auto over_range = [](const std::optional<Indication>& i) {
    return i && i->state != ReadingState::finite;
  };
  if (over_range(leads.before) || over_range(leads.after)) {
    remarks.push_back(
        "With the probes held together the leads read over-range: a lead or a plug is broken, or the probes "
        "did not "
        "touch. Replace the leads and measure again.");
    return;
  }
  if (!leads.before && !leads.after) {
    remarks.push_back("The leads were not measured: nothing is subtracted, and every reading includes them.");
    return;
  }
  if (!leads.before || !leads.after) {
    remarks.push_back("The leads were measured only once: their drift during the work is not known.");
    return;
  }
  const double digit = std::max(leads.before->resolution, leads.after->resolution);
  if (leads.drift_ohm() > std::max(2.0 * digit, 0.05) * (1.0 + 1e-9))
    remarks.push_back(
        fmt::format("The leads drifted from {} to {} during the work; the drift is in U. Clean the plugs or "
                    "replace the leads, "
                    "and measure again whatever is undecided.",
                    wording::ohm(leads.before->value, leads.before->resolution),
                    wording::ohm(leads.after->value, leads.after->resolution)));
}

/// What readings on a cold, disconnected switch can never show (IEC 60730-1 knows micro- and full
/// disconnection; an ohmmeter tells neither).
void remark_on_limits_of_method(const Profile& profile, const std::vector<Finding>& findings,
                                std::vector<std::string>& remarks) {
  if (std::any_of(findings.begin(), findings.end(), [](const Finding& f) {
        return f.expected.state == PairState::open && f.outcome == Outcome::pass;
      }))
    remarks.push_back(
        "Open means no continuity at the meter's test voltage; it proves neither insulation nor "
        "disconnection at mains "
        "voltage.");
  if (std::any_of(profile.contacts.begin(), profile.contacts.end(),
                  [](const Contact& c) { return !c.cycles_at.empty(); }))
    remarks.push_back(
        "A cold resistance check proves the contacts, not the cycling: on and off times need a trace under "
        "power.");
}

std::size_t count_of(const std::vector<Finding>& findings, Outcome outcome) {
  return static_cast<std::size_t>(std::count_if(findings.begin(), findings.end(),
                                                [&](const Finding& f) { return f.continuity == outcome; }));
}

ScopeItem continuity_item(const Verdict& verdict, const Profile& profile) {
  Scope scope;
  constexpr ScopePart part = ScopePart::continuity;
  const std::size_t total = verdict.findings.size();
  const std::size_t failed = count_of(verdict.findings, Outcome::fail);
  const std::size_t undecided = count_of(verdict.findings, Outcome::undecided);
  if (failed > 0) {
    const auto deviations = verdict.deviations();
    const auto worst = std::find_if(deviations.begin(), deviations.end(),
                                    [](const Finding* f) { return f->continuity == Outcome::fail; });
    scope.fails(part, fmt::format("{} of {} deviate{}; the worst: at {}, {} {} ({})", failed,
                                  wording::count_of(total, "reading"), failed == 1 ? "s" : "",
                                  wording::place(profile, (*worst)->expected.position), (*worst)->expected.pair.text(),
                                  to_string(*(*worst)->kind), to_string(*(*worst)->severity)));
  } else if (total == 0) {
    scope.undecided(part, "nothing was measured");
  } else if (undecided > 0 || !verdict.not_measured.empty()) {
    std::vector<std::string> parts;
    if (undecided > 0) parts.push_back(wording::count_of(undecided, "reading") + " could not be decided");
    if (!verdict.not_measured.empty())
      parts.push_back(fmt::format("{} of {} not measured", verdict.not_measured.size(),
                                  wording::count_of(total + verdict.not_measured.size(), "reading")));
    scope.undecided(part, joined_with_and(parts), "See what is undecided and what to do about it, and measure again.");
  } else {
    // A pass that did not look at everything must not read like one that did.
    scope.passes(part, fmt::format("all {} are inside their limits{}", wording::count_of(total, "reading"),
                                   verdict.left_out.empty()
                                       ? ""
                                       : fmt::format(". The {} plan left {} out", verdict.plan,
                                                     wording::count_of(verdict.left_out.size(), "reading"))));
  }
  return scope[part];
}

/// A question answered no fails the part, unless the profile calls it minor; one that nobody answered decides nothing.
ScopeItem inspection_item(const std::vector<InspectionFinding>& inspection) {
  Scope scope;
  constexpr ScopePart part = ScopePart::inspection;
  std::size_t wrong = 0, minor = 0, unanswered = 0;
  for (const InspectionFinding& i : inspection) {
    unanswered += !i.answer;
    if (i.answer == false) ++(i.question.severity == Severity::minor ? minor : wrong);
  }
  if (wrong > 0)
    scope.fails(part, wrong == 1 ? "the inspection found a fault" : fmt::format("the inspection found {} faults", wrong));
  else if (unanswered > 0)
    scope.undecided(part, wording::count_of(unanswered, "inspection question") + " not answered",
                    "Look at the part and answer: switchwright qualify asks; --inspected yes when all is well.");
  else if (!inspection.empty())
    scope.passes(part, minor == 0 ? "" : fmt::format("inspection passed with {}", wording::count_of(minor, "minor fault")));
  return scope[part];
}

}  // namespace

Verdict judge_all(const Profile& profile, const std::vector<Expectation>& expected,
                  const std::vector<Measured>& measured, const std::vector<InspectionFinding>& inspection,
                  const MeterDefinition& meter, const Leads& leads, const JudgeSettings& settings,
                  const LeftOut& left_out) {
  std::map<Spot, const Expectation*> wanted;
  for (const Expectation& e : expected)
    if (e.state != PairState::not_checked) wanted.emplace(Spot{e.position, e.pair}, &e);

  // The last attempt counts; the place in the list is that of the first.
  std::vector<Spot> order;
  std::map<Spot, const Measured*> last;
  std::size_t strangers = 0;
  for (const Measured& m : measured) {
    const Spot place{m.position, m.pair};
    if (!wanted.contains(place)) {
      ++strangers;
      continue;
    }
    if (!last.contains(place)) order.push_back(place);
    last[place] = &m;
  }

  Verdict verdict;
  verdict.inspection = inspection;
  std::size_t stated = 0;
  for (const Spot& place : order) {
    const Measured& m = *last[place];
    Witness witness = Witness::not_needed;
    if (m.indication.state == ReadingState::over_range)
      witness = witness_of(m, measured, profile.limits.open_min_ohm);
    Finding finding = judge(*wanted[place], m.indication, witness, profile, meter, leads, settings);
    if (finding.witness == Witness::stated) ++stated;
    verdict.findings.push_back(std::move(finding));
  }
  verdict.plan = left_out.plan;
  std::set<Spot> without;
  for (const Place& place : left_out.places) without.insert({place.position, place.pair});
  for (const Expectation& e : expected) {
    const Spot spot{e.position, e.pair};
    if (e.state == PairState::not_checked || last.contains(spot)) continue;
    (without.contains(spot) ? verdict.left_out : verdict.not_measured).push_back(e);
  }

  for (const InspectionFinding& i : inspection)
    if (i.answer == false)
      verdict.remarks.push_back(fmt::format("Inspection ({}): \"{}\" was answered no{}.", to_string(i.question.severity),
                                            i.question.ask, i.note.empty() ? "" : ": " + i.note));

  if (!left_out.sentence.empty()) verdict.remarks.push_back(left_out.sentence);
  if (!verdict.findings.empty()) remark_on_leads(leads, verdict.remarks);
  if (stated > 0)
    verdict.remarks.push_back(
        fmt::format("For {} the contact of the probes is stated by the operator or the fixture, not "
                    "witnessed by a reading.",
                    wording::count_of(stated, "over-range reading")));
  if (!verdict.not_measured.empty())
    verdict.remarks.push_back(fmt::format("{} of {} not measured.", verdict.not_measured.size(),
                                          wording::count_of(wanted.size(), "expected reading")));
  if (strangers > 0)
    verdict.remarks.push_back(
        fmt::format("{} at a place that the profile does not check; it is kept but not judged.",
                    wording::count_of(strangers, "reading")));
  remark_on_limits_of_method(profile, verdict.findings, verdict.remarks);
  verdict.scope[ScopePart::continuity] = continuity_item(verdict, profile);
  verdict.scope[ScopePart::soundness] = soundness_item(profile, verdict.findings, settings.rule);
  verdict.scope[ScopePart::inspection] = inspection_item(inspection);
  conclude(verdict);
  return verdict;
}

}  // namespace switchwright
