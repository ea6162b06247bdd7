// Everything measured, taken together: which opens are witnessed, what the last word on each pair is, what is
// missing, and what a reader must know before trusting the result.
#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <set>
#include <utility>

#include "switchwright/core/text.hpp"
#include "switchwright/judge/judge.hpp"
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

std::string headline_of(const Verdict& verdict, const Profile& profile, std::size_t undecided) {
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
  std::size_t undecided = 0, stated = 0;
  bool failed = false, low_battery = false, unspecified = false;
  for (const Spot& place : order) {
    const Measured& m = *last[place];
    Witness witness = Witness::not_needed;
    if (m.indication.state == ReadingState::over_range)
      witness = witness_of(m, measured, profile.limits.open_min_ohm);
    Finding finding = judge(*wanted[place], m.indication, witness, profile, meter, leads, settings);
    failed |= finding.outcome == Outcome::fail;
    if (finding.outcome == Outcome::undecided) ++undecided;
    if (finding.witness == Witness::stated) ++stated;
    low_battery |= m.indication.flags.low_battery;
    unspecified |=
        m.indication.state == ReadingState::finite &&
        meter.accuracy_for(m.indication.quantity, m.indication.value, m.indication.resolution) == nullptr;
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
  else if (undecided > 0 || !verdict.not_measured.empty() || verdict.findings.empty())
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
  if (!verdict.findings.empty()) remark_on_leads(leads, verdict.remarks);
  remark_on_soundness(profile, verdict.findings, verdict.remarks);
  if (stated > 0)
    verdict.remarks.push_back(
        fmt::format("For {} the contact of the probes is stated by the operator or the fixture, not "
                    "witnessed by a reading.",
                    wording::count_of(stated, "over-range reading")));
  if (!verdict.not_measured.empty())
    verdict.remarks.push_back(fmt::format("{} of {} not measured.", verdict.not_measured.size(),
                                          wording::count_of(wanted.size(), "expected reading")));
  if (unanswered > 0)
    verdict.remarks.push_back(
        fmt::format("{} not answered.", wording::count_of(unanswered, "inspection question")));
  if (strangers > 0)
    verdict.remarks.push_back(
        fmt::format("{} at a place that the profile does not check; it is kept but not judged.",
                    wording::count_of(strangers, "reading")));
  remark_on_limits_of_method(profile, verdict.findings, verdict.remarks);
  verdict.headline = headline_of(verdict, profile, undecided);
  return verdict;
}

}  // namespace switchwright
