// Everything measured, taken together: which opens are witnessed, what the last word on each pair is, what is
// missing, and what a reader must know before trusting the result.
#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <set>
#include <utility>

#include "judge/ruled_out.hpp"
#include "judge/wired.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/judge/closings.hpp"
#include "switchwright/judge/judge.hpp"
#include "switchwright/judge/soundness.hpp"
#include "switchwright/judge/witness.hpp"
#include "switchwright/judge/wording.hpp"
#include "switchwright/profile/wired.hpp"

namespace switchwright {

namespace {

using Spot = std::pair<std::string, Pair>;  // position, pair

/// What leaves the whole undecided, whatever single readings say: a clause each.
std::vector<std::string> doubts_of(const std::vector<Finding>& findings, const Leads& leads, const LeadsJudged& judged,
                                   std::vector<std::string> closings_missing) {
  const bool two_wire = std::any_of(findings.begin(), findings.end(), [](const Finding& f) {
    return f.corrected && f.indication.quantity != Quantity::resistance_4_wire;
  });
  if (judged.refused && two_wire) closings_missing.insert(closings_missing.begin(), "the leads were refused");
  if (!leads.ideal && !findings.empty() && !tips_seen_apart(findings, leads))
    closings_missing.push_back(
        "no reading shows that the probe tips did not touch each other or that the display moves");
  return closings_missing;
}

/// What readings on a cold, disconnected switch can never show (IEC 60730-1 knows micro- and full
/// disconnection; an ohmmeter tells neither).
void remark_on_limits_of_method(const Profile& profile, const std::vector<Finding>& findings,
                                std::vector<std::string>& remarks) {
  if (std::any_of(findings.begin(), findings.end(),
                  [](const Finding& f) { return f.expected.state == PairState::open && f.outcome == Outcome::pass; }))
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
  return static_cast<std::size_t>(
      std::count_if(findings.begin(), findings.end(), [&](const Finding& f) { return f.continuity == outcome; }));
}

/// What leaves a part undecided because it is still wired: a clause each.
std::vector<std::string> wiring_doubts(const Profile& profile, const std::vector<Finding>& findings,
                                       const LeftOut& left_out) {
  std::vector<std::string> doubts = masked_contacts(profile, findings);
  if (!is_wired(profile)) return doubts;
  if (!left_out.hidden)
    doubts.push_back("what the wiring hides is not worked out");
  else if (!left_out.hidden->faults.empty())
    doubts.push_back(fmt::format("as it is wired no reading shows {}", joined_with_and(left_out.hidden->faults)));
  return doubts;
}

std::string pull_words(const Profile& profile, const LeftOut& left_out) {
  if (!is_wired(profile)) return {};
  const bool enough = left_out.hidden && !left_out.hidden->pull.empty();
  return "Pull the connector" + std::string{enough && left_out.hidden->pull.size() > 1 ? "s" : ""} + " from " +
         (enough ? joined_with_and(left_out.hidden->pull) : "the terminals that the undecided readings name") +
         " and measure again; all of them pulled, and without --wired, everything is seen.";
}

ScopeItem continuity_item(const Verdict& verdict, const Profile& profile, const std::vector<std::string>& doubts,
                          const std::string& how) {
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
  } else if (undecided > 0 || !verdict.not_measured.empty() || !doubts.empty()) {
    std::vector<std::string> parts;
    if (undecided > 0) parts.push_back(wording::count_of(undecided, "reading") + " could not be decided");
    if (!verdict.not_measured.empty())
      parts.push_back(fmt::format("{} of {} not measured", verdict.not_measured.size(),
                                  wording::count_of(total + verdict.not_measured.size(), "reading")));
    parts.insert(parts.end(), doubts.begin(), doubts.end());
    scope.undecided(part, joined_with_and(parts),
                    how.empty() ? "See what is undecided and what to do about it, and measure again." : how);
  } else {
    // A pass that did not look at everything must not read like one that did.
    scope.passes(
        part,
        fmt::format("{}{}",
                    total == 1 ? "its one reading is inside its limits"
                               : fmt::format("all {} are inside their limits", wording::count_of(total, "reading")),
                    verdict.left_out.empty() ? ""
                                             : fmt::format(". The {} plan left {} out", verdict.plan,
                                                           wording::count_of(verdict.left_out.size(), "reading"))));
  }
  return scope[part];
}

/// A contact that does not close alike each time fails once and passes once, so what failed is not passed by reading it again.
/// A probe that slipped adds resistance: what read too much there may have been the probe.
void mind_what_failed_before(const Finding& before, bool given_up, Verdict& verdict) {
  Finding& now = verdict.findings.back();
  if (before.outcome != Outcome::fail || now.outcome == Outcome::fail) return;
  const bool too_low = before.corrected && *before.corrected < before.expected.ohm.min;
  if (given_up && !too_low) {
    verdict.remarks.push_back("Placed again because a probe had slipped; before that: " + before.sentence);
    return;
  }
  if (now.outcome == Outcome::pass)
    now.sentence +=
        " It had failed before it was read again: a contact that does not close or open alike each time fails once and passes "
        "once. Measure the whole part anew, in a record of its own.";
  now.outcome = now.continuity = Outcome::undecided;
  verdict.remarks.push_back("Measured again after it had failed: " + before.sentence);
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
    scope.fails(part,
                wrong == 1 ? "the inspection found a fault" : fmt::format("the inspection found {} faults", wrong));
  else if (unanswered > 0)
    scope.undecided(part, wording::count_of(unanswered, "inspection question") + " not answered",
                    "Look at the part and answer: switchwright qualify asks; --inspected yes when all is well.");
  else if (!inspection.empty())
    scope.passes(part,
                 minor == 0 ? "" : fmt::format("inspection passed with {}", wording::count_of(minor, "minor fault")));
  return scope[part];
}

}  // namespace

Verdict judge_all(const Profile& profile, const std::vector<Expectation>& expected,
                  const std::vector<Measured>& measured, const std::vector<InspectionFinding>& inspection,
                  const MeterDefinition& meter, const Leads& leads, const JudgeSettings& settings,
                  const LeftOut& left_out) {
  std::size_t strangers = 0;
  const std::vector<PlaceReadings> places = readings_by_place(expected, measured, strangers);

  Verdict verdict;
  verdict.inspection = inspection;
  std::size_t stated = 0;
  for (const PlaceReadings& place : places) {
    std::vector<Finding> visits;
    for (const Measured* m : place.visits)
      visits.push_back(
          judge(*place.expected, m->indication, witness_of(*m, measured, expected), profile, meter, leads, settings));
    verdict.findings.push_back(worst_of(visits));
    for (const Measured* m : place.replaced)
      mind_what_failed_before(
          judge(*place.expected, m->indication, witness_of(*m, measured, expected), profile, meter, leads, settings),
          m->given_up, verdict);
  }
  judge_scatter(profile, expected, verdict.findings, settings.k);
  for (const Finding& finding : verdict.findings) {
    if (finding.witness == Witness::stated) ++stated;
  }
  const LeadsJudged leads_judged = judge_leads(leads, meter, settings.k);
  std::vector<std::string> doubts = doubts_of(verdict.findings, leads, leads_judged,
                                              closings_missing(profile, expected, places, measured, settings.closings));
  for (std::string& doubt : wiring_doubts(profile, verdict.findings, left_out)) doubts.push_back(std::move(doubt));
  verdict.plan = left_out.plan;
  std::set<Spot> without, read;
  for (const Place& place : left_out.places) without.insert({place.position, place.pair});
  for (const PlaceReadings& place : places) read.insert({place.expected->position, place.expected->pair});
  for (const Expectation& e : expected) {
    const Spot spot{e.position, e.pair};
    if (e.state == PairState::not_checked || read.contains(spot)) continue;
    (without.contains(spot) ? verdict.left_out : verdict.not_measured).push_back(e);
  }

  const bool all_passed =
      verdict.not_measured.empty() && count_of(verdict.findings, Outcome::pass) == verdict.findings.size();
  std::string how = pull_words(profile, left_out);
  if (all_passed && doubts.empty()) {
    doubts = not_ruled_out(profile, verdict.findings);
    if (!doubts.empty())
      how =
          "Read what the profile leaves out, or use another way to see it: a trace under power, the millivolt drop of each "
          "contact by itself. Is the contact a link or a fuse? Then the profile says never_opens = true.";
  }

  for (const InspectionFinding& i : inspection)
    if (i.answer == false)
      verdict.remarks.push_back(fmt::format("Inspection ({}): \"{}\" was answered no{}.",
                                            to_string(i.question.severity), i.question.ask,
                                            i.note.empty() ? "" : ": " + i.note));

  if (is_wired(profile))
    verdict.remarks.push_back("Measured wired, not on the bench: " + wired_words(profile) +
                              " stayed connected. What else is connected out there nobody knows.");
  if (!left_out.sentence.empty()) verdict.remarks.push_back(left_out.sentence);
  if (std::any_of(verdict.findings.begin(), verdict.findings.end(),
                  [](const Finding& f) { return f.indication.flags.low_battery; }))
    verdict.remarks.push_back(
        "The meter's battery was low: its accuracy is no longer as specified. Replace the battery and measure again.");
  if (!verdict.findings.empty() && !leads_judged.sentence.empty()) verdict.remarks.push_back(leads_judged.sentence);
  if (stated > 0)
    verdict.remarks.push_back(
        fmt::format("For {} the contact of the probes is stated by the operator or the fixture, not "
                    "witnessed by a reading.",
                    wording::count_of(stated, "over-range reading")));
  if (!verdict.not_measured.empty()) {
    const auto wanted = verdict.findings.size() + verdict.not_measured.size() + verdict.left_out.size();
    verdict.remarks.push_back(fmt::format("{} of {} not measured.", verdict.not_measured.size(),
                                          wording::count_of(wanted, "expected reading")));
  }
  if (strangers > 0)
    verdict.remarks.push_back(fmt::format("{} at a place that the profile does not check; it is kept but not judged.",
                                          wording::count_of(strangers, "reading")));
  remark_on_limits_of_method(profile, verdict.findings, verdict.remarks);
  verdict.scope[ScopePart::continuity] = continuity_item(verdict, profile, doubts, how);
  verdict.scope[ScopePart::soundness] = soundness_item(profile, verdict.findings, settings.rule);
  verdict.scope[ScopePart::inspection] = inspection_item(inspection);
  conclude(verdict);
  return verdict;
}

}  // namespace switchwright
