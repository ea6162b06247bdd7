// Everything measured, taken together: which opens are witnessed, what the last word on each pair is, what is
// missing, and what a reader must know before trusting the result.
#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <set>
#include <utility>

#include "switchwright/core/text.hpp"
#include "switchwright/judge/closings.hpp"
#include "switchwright/judge/judge.hpp"
#include "switchwright/judge/witness.hpp"
#include "switchwright/judge/wording.hpp"

namespace switchwright {

namespace {

using Spot = std::pair<std::string, Pair>;  // position, pair

/// What leaves the whole undecided, whatever single readings say: a clause each.
std::vector<std::string> doubts_of(const std::vector<Finding>& findings, const LeadsJudged& leads,
                                   std::vector<std::string> closings_missing) {
  const bool two_wire = std::any_of(findings.begin(), findings.end(), [](const Finding& f) {
    return f.corrected && f.indication.quantity != Quantity::resistance_4_wire;
  });
  if (leads.refused && two_wire) closings_missing.insert(closings_missing.begin(), "the leads were refused");
  return closings_missing;
}

/// Contact resistance that this meter could not decide, and the two ways to decide it.
void remark_on_soundness(const Profile& profile, const std::vector<Finding>& findings,
                         std::vector<std::string>& remarks) {
  std::size_t judged = 0, unresolved = 0, unsound = 0;
  double smallest_U = 0.0;
  for (const Finding& f : findings) {
    if (!f.sound) continue;
    ++judged;
    if (*f.sound == Outcome::fail) ++unsound;
    if (*f.sound != Outcome::undecided) continue;
    smallest_U = unresolved == 0 ? f.U.value_or(0.0) : std::min(smallest_U, f.U.value_or(0.0));
    ++unresolved;
  }
  if (unresolved > 0)
    remarks.push_back(fmt::format(
        "Whether {} of {} closed {} sound (at most {}) is not decided by this meter: U is {} at best. "
        "Measure with four "
        "wires, or measure the millivolt drop under a known current ({:.0f} mV at 1 A is the limit).",
        unresolved, judged, judged == 1 ? "pair is" : "pairs are", human_ohm(profile.limits.sound_max_ohm),
        wording::two_figures_ohm(smallest_U), profile.limits.sound_max_ohm * 1e3));
  if (unsound > 0)
    remarks.push_back(
        fmt::format("{} closed but not sound: more than {} per contact. This does not change the verdict on "
                    "continuity; a contact "
                    "that heats is not refitted.",
                    unsound == 1 ? "1 pair is" : fmt::format("{} pairs are", unsound),
                    human_ohm(profile.limits.sound_max_ohm)));
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

std::string headline_of(const Verdict& verdict, const Profile& profile, std::size_t undecided,
                        const std::vector<std::string>& doubts) {
  std::size_t failed = 0;
  for (const Finding& f : verdict.findings)
    if (f.outcome == Outcome::fail) ++failed;
  const std::size_t total = verdict.findings.size();
  switch (verdict.outcome) {
    case Outcome::fail: {
      if (failed == 0) return "Fail: the inspection found a fault that the readings do not show.";
      const Finding* worst = nullptr;
      for (const Finding* f : verdict.deviations())
        if (f->outcome == Outcome::fail) {
          worst = f;
          break;
        }
      return fmt::format("Fail: {} of {} deviate{}; the worst: at {}, {} {} ({}).", failed,
                         wording::count_of(total, "reading"), failed == 1 ? "s" : "",
                         wording::place(profile, worst->expected.position), worst->expected.pair.text(),
                         to_string(*worst->kind), to_string(*worst->severity));
    }
    case Outcome::undecided: {
      if (total == 0) return "Undecided: nothing was measured.";
      std::vector<std::string> parts;
      if (undecided > 0) parts.push_back(wording::count_of(undecided, "reading") + " could not be decided");
      if (!verdict.not_measured.empty())
        parts.push_back(fmt::format("{} of {} not measured", verdict.not_measured.size(),
                                    wording::count_of(total + verdict.not_measured.size(), "reading")));
      parts.insert(parts.end(), doubts.begin(), doubts.end());
      return fmt::format("Undecided: {}.", joined_with_and(parts));
    }
    case Outcome::pass:
      break;
  }
  // A pass that did not look at everything must not read like one that did.
  const std::string without = verdict.left_out.empty()
                                  ? ""
                                  : fmt::format(" The {} plan left {} out.", verdict.plan,
                                                wording::count_of(verdict.left_out.size(), "reading"));
  const auto deviations = verdict.deviations().size();
  if (deviations > 0)
    return fmt::format("Pass for continuity: all {} are inside their limits, but {} not sound.{}",
                       wording::count_of(total, "reading"),
                       deviations == 1 ? "1 closed pair is" : fmt::format("{} closed pairs are", deviations),
                       without);
  return fmt::format("Pass: all {} are inside their limits.{}", wording::count_of(total, "reading"), without);
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
  std::size_t undecided = 0, stated = 0;
  bool failed = false, low_battery = false, unspecified = false;
  for (const PlaceReadings& place : places) {
    std::vector<Finding> visits;
    for (const Measured* m : place.visits) {
      visits.push_back(judge(*place.expected, m->indication, witness_of(*m, measured, expected), profile, meter, leads,
                             settings));
      low_battery |= m->indication.flags.low_battery;
      unspecified |=
          m->indication.state == ReadingState::finite &&
          meter.accuracy_for(m->indication.quantity, m->indication.value, m->indication.resolution) == nullptr;
    }
    verdict.findings.push_back(worst_of(visits));
  }
  judge_scatter(profile, expected, verdict.findings, settings.k);
  for (const Finding& finding : verdict.findings) {
    failed |= finding.outcome == Outcome::fail;
    if (finding.outcome == Outcome::undecided) ++undecided;
    if (finding.witness == Witness::stated) ++stated;
  }
  const LeadsJudged leads_judged = judge_leads(leads, meter, settings.k);
  const std::vector<std::string> doubts =
      doubts_of(verdict.findings, leads_judged,
                closings_missing(profile, expected, places, measured, settings.closings));
  verdict.plan = left_out.plan;
  std::set<Spot> without, read;
  for (const Place& place : left_out.places) without.insert({place.position, place.pair});
  for (const PlaceReadings& place : places) read.insert({place.expected->position, place.expected->pair});
  for (const Expectation& e : expected) {
    const Spot spot{e.position, e.pair};
    if (e.state == PairState::not_checked || read.contains(spot)) continue;
    (without.contains(spot) ? verdict.left_out : verdict.not_measured).push_back(e);
  }

  std::size_t unanswered = 0;
  for (const InspectionFinding& i : inspection) {
    if (!i.answer) ++unanswered;
    if (i.answer && !*i.answer) {
      failed |= i.question.severity != Severity::minor;
      verdict.remarks.push_back(fmt::format("Inspection ({}): \"{}\" was answered no{}.",
                                            to_string(i.question.severity), i.question.ask,
                                            i.note.empty() ? "" : ": " + i.note));
    }
  }

  if (failed)
    verdict.outcome = Outcome::fail;
  else if (undecided > 0 || !verdict.not_measured.empty() || verdict.findings.empty() || !doubts.empty())
    verdict.outcome = Outcome::undecided;
  else
    verdict.outcome = Outcome::pass;

  if (!left_out.sentence.empty()) verdict.remarks.push_back(left_out.sentence);
  if (low_battery)
    verdict.remarks.push_back(
        "The meter's battery was low: its accuracy is no longer as specified. Replace the battery and "
        "measure again.");
  if (unspecified)
    verdict.remarks.push_back(
        "The meter definition gives no accuracy for some readings: their U is the display's resolution "
        "alone. Add the "
        "accuracy from the meter's manual to its definition.");
  if (!verdict.findings.empty() && !leads_judged.sentence.empty()) verdict.remarks.push_back(leads_judged.sentence);
  remark_on_soundness(profile, verdict.findings, verdict.remarks);
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
  if (unanswered > 0)
    verdict.remarks.push_back(
        fmt::format("{} not answered.", wording::count_of(unanswered, "inspection question")));
  if (strangers > 0)
    verdict.remarks.push_back(
        fmt::format("{} at a place that the profile does not check; it is kept but not judged.",
                    wording::count_of(strangers, "reading")));
  remark_on_limits_of_method(profile, verdict.findings, verdict.remarks);
  verdict.headline = headline_of(verdict, profile, undecided, doubts);
  return verdict;
}

}  // namespace switchwright
