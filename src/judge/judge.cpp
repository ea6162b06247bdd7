// One settled indication against what the network says it should be.
//
// Severity (defect classes of MIL-STD-105E), the rule used here:
//   critical  a pair reads lower than it may where the network says that this can put the supply on the load
//   or on
//             exposed metal (live when it must not be)
//   major     the switch does not do its work: a contact that stays open or closed, too much resistance in a
//   closed
//             path, an element out of its band
//   minor     the rest: a leak that can make nothing live
#include "switchwright/judge/judge.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>

#include "judge/meter_doubt.hpp"
#include "judge/wired.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/judge/conformance.hpp"
#include "switchwright/judge/contact_heat.hpp"
#include "switchwright/judge/witness.hpp"
#include "switchwright/judge/wording.hpp"
#include "switchwright/profile/position_words.hpp"

namespace switchwright {

namespace {

constexpr double infinity = std::numeric_limits<double>::infinity();

/// Everything that one judgement looks at.
struct Case {
  const Profile& profile;
  const MeterDefinition& meter;
  const JudgeSettings& settings;
  Finding& finding;
  const Expectation& expected = finding.expected;
  const Indication& indication = finding.indication;

  std::string where() const { return taken_at(profile, expected.position) + ", " + expected.pair.text(); }
};

/// Closed pairs have no lower limit: nothing can be too well connected. Open pairs have no upper one.
Interval tolerance_of(const Expectation& expected) {
  switch (expected.state) {
    case PairState::closed: return {-infinity, expected.ohm.max};
    case PairState::open: return {expected.ohm.min, infinity};
    case PairState::element: return expected.ohm;
    case PairState::not_checked: break;
  }
  return {};
}

/// The most that a path of closed contacts alone may read: every contact of the part in a row.
double closed_path_max_ohm(const Profile& profile) {
  return profile.limits.closed_max_ohm * static_cast<double>(std::max<std::size_t>(profile.contacts.size(), 1));
}

void deviates(Finding& finding, DeviationKind kind, bool reads_low) {
  finding.kind = kind;
  if (reads_low && finding.expected.can_make_live)
    finding.severity = Severity::critical;
  else
    finding.severity = kind == DeviationKind::leaks ? Severity::minor : Severity::major;
}

/// What a failed finite reading is called, and the words for it.
std::string name_deviation(Case& c, double ohm, double U) {
  Finding& finding = c.finding;
  const bool live = c.expected.can_make_live;
  const std::string warning = live ? ", which can make live what must be dead" : "";
  switch (c.expected.state) {
    case PairState::open:
      if (ohm <= closed_path_max_ohm(c.profile) + U) {
        deviates(finding, DeviationKind::stays_closed, true);
        return "the contact stays closed" + warning;
      }
      deviates(finding, DeviationKind::leaks, true);
      return "something conducts where nothing may" + warning;
    case PairState::closed:
      if (ohm >= c.profile.limits.open_min_ohm) {
        deviates(finding, DeviationKind::stays_open, false);
        return "the contact stays open";
      }
      deviates(finding, DeviationKind::high_resistance, false);
      return "the closed path has too much resistance";
    case PairState::element: {
      const bool low = ohm < c.expected.ohm.min;
      const double path = closed_path_max_ohm(c.profile);
      if (low && ohm <= path + U && c.expected.ohm.min > path) {
        deviates(finding, DeviationKind::stays_closed, true);
        return "a closed path bridges the element" + warning;
      }
      deviates(finding, DeviationKind::out_of_band, low);
      return low ? "the element reads too low" : "the element reads too high";
    }
    case PairState::not_checked: break;
  }
  return {};
}

/// The second limit of a closed pair: contact resistance. A path that is proven to be more than sound contacts can have
/// fails; one that this meter cannot tell leaves the reading as it is.
void judge_soundness(Case& c, double ohm, double U) {
  if (!c.expected.sound_max_ohm) return;
  const double limit = *c.expected.sound_max_ohm;
  Finding& finding = c.finding;
  finding.sound = decide(ohm, U, {-infinity, limit}, c.settings.rule);
  if (finding.sound != Outcome::fail || finding.continuity == Outcome::fail) return;
  finding.outcome = Outcome::fail;
  deviates(finding, DeviationKind::high_resistance, false);
  finding.sentence =
      fmt::format("{} is {}, but {} (U {}) is more than a sound contact's {}", c.where(),
                  finding.continuity == Outcome::pass ? "closed" : "near the closed limit",
                  wording::ohm(ohm, c.indication.resolution), wording::two_figures_ohm(U), human_ohm(limit));
  const Contact* contact = contact_between(c.profile, c.expected.pair);
  const auto heat = contact ? contact_heat(c.profile, *contact, ohm) : std::nullopt;
  finding.sentence +=
      heat ? fmt::format(": do not refit. {} that is {:.3g} W in the contact.", current_words(*heat), heat->heat_w)
           : ": do not refit.";
}

/// Below zero there is no resistance. What reads so by more than U is a voltage on the part, or a zero that is wrong.
void call_impossible(Case& c, double ohm, double U) {
  c.finding.outcome = c.finding.continuity = Outcome::undecided;
  if (c.expected.sound_max_ohm) c.finding.sound = Outcome::undecided;
  c.finding.sentence = fmt::format(
      "{} reads {} (U {}) where it must be {}: below zero there is no resistance, only a voltage on the part or a wrong lead "
      "zero. Take the probes off, prove the part dead, measure the leads and redo the step.",
      c.where(), wording::ohm(ohm, c.indication.resolution), wording::two_figures_ohm(U), wording::must_be(c.expected));
}

/// An open that may be fingers needs a witness like an over-range.
void require_witness(Case& c, const std::string& reads, Witness witness) {
  if (c.expected.state != PairState::open || c.finding.outcome != Outcome::pass || !could_be_fingers(c.indication))
    return;
  c.finding.witness = witness == Witness::not_needed ? Witness::missing : witness;
  if (c.finding.witness != Witness::missing) return;
  c.finding.outcome = c.finding.continuity = Outcome::undecided;
  c.finding.sentence = fmt::format(
      "{} where it must be {}: that may be fingers on the tips, and nothing proves that both probes touch; hold them "
      "firmly, fingers behind the guards, measure again and state that they touch.",
      reads, wording::must_be(c.expected));
}

void judge_finite(Case& c, Witness witness, const Leads& leads) {
  const Indication& indication = c.indication;
  Finding& finding = c.finding;
  const bool two_wire = indication.quantity != Quantity::resistance_4_wire;
  const Uncertainty budget = uncertainty_of(c.meter, indication, two_wire ? &leads : nullptr, c.settings.k);
  const double U = budget.U + (two_wire ? judge_leads(leads, c.meter, c.settings.k).doubt_ohm : 0.0);
  const double ohm =
      calibrated(c.meter, indication.quantity, indication.value) - (two_wire ? leads.correction_ohm(c.meter) : 0.0);
  finding.corrected = ohm;
  finding.U = U;
  finding.witness = Witness::not_needed;
  if (ohm < -U) return call_impossible(c, ohm, U);
  const Interval tolerance = tolerance_of(c.expected);
  finding.outcome = finding.continuity = decide(ohm, U, tolerance, c.settings.rule);
  if (budget.specified) finding.p_conform = conformance_probability(ohm, budget.u, tolerance);

  const std::string reads = fmt::format("{} reads {} (U {})", c.where(), wording::ohm(ohm, indication.resolution),
                                        wording::two_figures_ohm(U));
  const std::string must = wording::must_be(c.expected);
  switch (finding.outcome) {
    case Outcome::pass: finding.sentence = fmt::format("{}: {}, as it must be.", reads, must); break;
    case Outcome::fail:
      finding.sentence = fmt::format("{} where it must be {}: {}.", reads, must, name_deviation(c, ohm, U));
      break;
    case Outcome::undecided:
      finding.sentence = fmt::format(
          "{} where it must be {}: too near the limit for this meter to decide; measure again with a finer "
          "meter or with four wires.",
          reads, must);
      break;
  }
  judge_soundness(c, ohm, U);
  require_witness(c, reads, witness);
}

/// What the operator states about the range, where it counts: on ohms, and only where the meter does not show it itself.
const StatedRange* stated_range(const Case& c) {
  const bool counts = c.settings.range && c.indication.quantity != Quantity::continuity && !c.meter.shows_autorange() &&
                      !c.meter.selects(c.indication.quantity);
  return counts ? &*c.settings.range : nullptr;
}

/// The meter says that it picks its range, or the operator states it, or the tool has selected the function without
/// naming a range, which leaves the range to the meter (SCPI-99 CONFigure).
bool autoranges(const Case& c) {
  const StatedRange* stated = stated_range(c);
  const FunctionCommands* selected = c.meter.function_for(c.indication.quantity);
  return c.indication.flags.autorange || (selected && !selected->range) || (stated && !stated->full_scale_ohm);
}

/// What an over-range display says about the measurand: it is more than this. Absent: not known. The beeper
/// range of a meter whose definition says nothing about it is taken for its lowest range (common practice).
std::optional<double> exceeded_ohm(const Case& c) {
  if (c.indication.beyond) return c.indication.beyond;
  if (const FunctionCommands* selected = c.meter.function_for(c.indication.quantity); selected && selected->range)
    return selected->range;
  if (const StatedRange* stated = stated_range(c); stated && stated->full_scale_ohm) return stated->full_scale_ohm;
  const auto is_beeper = [](const AccuracyRow& row) { return row.quantity == Quantity::continuity; };
  const auto& rows = c.meter.accuracy;
  if (c.indication.quantity == Quantity::continuity && std::none_of(rows.begin(), rows.end(), is_beeper)) {
    std::optional<double> lowest;
    for (const AccuracyRow& row : rows)
      if (row.quantity == Quantity::resistance) lowest = std::min(lowest.value_or(row.full_scale), row.full_scale);
    return lowest;
  }
  if (autoranges(c)) return c.meter.top_of_range(c.indication.quantity);
  return std::nullopt;
}

/// Why over-range does not decide, and what to do about it.
std::string over_range_advice(const Case& c, double limit) {
  const auto top = c.meter.top_of_range(Quantity::resistance);
  if (top && *top < limit)
    return fmt::format("this meter's highest range ends at {}; use a meter that reaches {}", human_ohm(*top),
                       human_ohm(limit));
  if (c.indication.quantity == Quantity::continuity)
    return "the beeper range ends too low; turn the dial to ohms and set the meter to autorange";
  if (autoranges(c) && !c.indication.beyond && !top)
    return "the meter definition does not say where its highest range ends; add its accuracy rows";
  if (!c.meter.shows_autorange())
    return "this meter does not show its range; set it to autorange, or to a range that reaches " + human_ohm(limit) +
           ", and state it once (--range auto, or --range 40Mohm)";
  return "set the meter to autorange and measure again";
}

void judge_over_range(Case& c, Witness witness) {
  Finding& finding = c.finding;
  finding.witness = witness == Witness::not_needed ? Witness::missing : witness;
  const bool touched = finding.witness != Witness::missing;
  const auto range_end = exceeded_ohm(c);
  const std::string reads = range_end
                                ? fmt::format("{} reads over-range (more than {})", c.where(), human_ohm(*range_end))
                                : fmt::format("{} reads over-range", c.where());
  const std::string must = wording::must_be(c.expected);
  const bool wants_open = c.expected.state == PairState::open;
  const double limit = wants_open ? c.expected.ohm.min : c.expected.ohm.max;

  // What the measurand exceeds for certain: the end of the range less U there. An autoranging meter that
  // shows over-range has tried its highest range, far above any closed path or element, even where the
  // definition does not say how far.
  bool beyond_limit = !wants_open && autoranges(c) && c.indication.quantity != Quantity::continuity;
  if (range_end) {
    const double guard = guard_band(
        c.settings.rule, uncertainty_of(c.meter, c.indication.quantity, *range_end, 0.0, nullptr, c.settings.k).U);
    beyond_limit = wants_open ? *range_end - guard >= limit : *range_end - guard > limit;
  }
  if (!beyond_limit) {
    finding.outcome = Outcome::undecided;
    finding.sentence = fmt::format("{} where it must be {}: {}.", reads, must, over_range_advice(c, limit));
  } else if (wants_open) {
    finding.outcome = touched ? Outcome::pass : Outcome::undecided;
    finding.sentence = touched ? fmt::format("{}: {}, as it must be ({}).", reads, must,
                                             finding.witness == Witness::witnessed
                                                 ? "that the probes touched is witnessed by another position"
                                                 : "that the probes touched is stated, not witnessed")
                               : fmt::format(
                                     "{} where it must be {}: nothing proves that both probes touch; hold them firmly, "
                                     "measure again and state that they touch.",
                                     reads, must);
  } else if (touched) {
    finding.outcome = Outcome::fail;
    deviates(finding, DeviationKind::stays_open, false);
    finding.sentence =
        fmt::format("{} where it must be {}: {}.", reads, must,
                    c.expected.state == PairState::closed ? "the contact stays open" : "the element is open");
  } else {
    finding.outcome = Outcome::undecided;
    finding.sentence = fmt::format(
        "{} where it must be {}: either it stays open or a probe does not touch; check that both probes "
        "touch "
        "and redo the step.",
        reads, must);
  }
}

}  // namespace

Finding judge(const Expectation& expected, const Indication& indication, Witness witness, const Profile& profile,
              const MeterDefinition& meter, const Leads& leads, const JudgeSettings& settings) {
  Finding finding;
  finding.expected = expected;
  finding.indication = indication;
  Case c{profile, meter, settings, finding};
  if (expected.state == PairState::not_checked) {
    finding.sentence = fmt::format("{} is not checked{}.", c.where(),
                                   expected.reason.empty() ? std::string{} : ": " + expected.reason);
  } else if (!is_resistance(indication.quantity)) {
    finding.sentence = fmt::format("{} was measured in {}; turn the dial to {} and redo the step.", c.where(),
                                   dial_words(indication.quantity), dial_words(Quantity::resistance));
  } else if (indication.state == ReadingState::finite) {
    judge_finite(c, witness, leads);
  } else if (indication.state == ReadingState::over_range) {
    judge_over_range(c, witness);
    finding.continuity = finding.outcome;
  } else {
    finding.sentence = fmt::format("{} gave no value; redo the step.", c.where());
  }
  if (expected.state != PairState::not_checked && is_resistance(indication.quantity))
    withhold_what_is_unproven(finding, meter);
  doubt_for_wiring(profile, finding);
  return finding;
}

}  // namespace switchwright
