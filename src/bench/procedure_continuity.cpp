// The part without power: the part is proven dead, the leads are measured, and every pair is read in ohms at every
// position.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <set>
#include <utility>

#include "bench/procedure.hpp"
#include "bench/proving.hpp"
#include "switchwright/analysis/measured.hpp"
#include "switchwright/bench/measure_plan.hpp"
#include "switchwright/bench/plan.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/explain/wiring.hpp"
#include "switchwright/judge/witness.hpp"
#include "switchwright/profile/closings.hpp"
#include "switchwright/profile/route.hpp"
#include "switchwright/profile/wired.hpp"

namespace switchwright {

namespace {

class Continuity final : public Procedure {
 public:
  explicit Continuity(const ProcedureParts& parts)
      : parts_(parts),
        judge_(parts.settings.judge),
        proving_(parts.meter, parts.settings.volts_present_v, parts.unattended),
        expected_(expectations(parts.profile)),
        plan_(make_measure_plan(parts.settings.plan, parts.profile, expected_, parts.meter, parts.settings.judge,
                                parts.settings.knowledge.get(), parts.settings.cost)) {
    if (is_wired(parts_.profile) && !parts_.settings.measure_only)
      hidden_ = hidden_by_wiring(parts_.profile, parts_.meter, judge_);
    for (const auto& question : parts_.profile.inspect)
      inspection_.push_back({question, parts_.settings.inspection, ""});
    // What the full plan shows it also owes.
    if (plan_->name().empty() && !parts_.settings.measure_only)
      for (const auto& [contact, times] : closings_in(parts_.profile, expected_, plan_->route()))
        judge_.closings[contact] = std::min(times, closings_wanted);
    if (parts_.settings.sitting && parts_.settings.sitting->leads)
      lead_readings_.push_back({leads_of_the_unit_before, false, *parts_.settings.sitting->leads});
  }

  std::vector<Step> plan(int) const override {
    if (const auto& sitting = parts_.settings.sitting)
      return plan_in_sitting(parts_.profile, expected_, plan_->route(), parts_.meter, sitting->meter_proven,
                             sitting->leads && sitting->leads_stand);
    return plan_qualification(parts_.profile, expected_, plan_->route(), parts_.meter);
  }

  std::vector<std::string> warnings() const override {
    if (parts_.settings.measure_only) return {};  // nothing is decided
    std::vector<std::string> warnings = undecidable(parts_.profile, parts_.meter, parts_.settings.judge.k);
    if (hidden_) warnings.push_back(hidden_words(*hidden_));
    return warnings;
  }

  std::string opening() const override { return plan_->opening(); }

  int steps_to_come() const override {
    if (!plan_->route().empty()) return 0;
    return static_cast<int>(std::count_if(expected_.begin(), expected_.end(),
                                          [](const Expectation& e) { return e.state != PairState::not_checked; }));
  }

  /// Between the last reading and the leads, a plan that is made as the work goes says what it still wants.
  std::optional<Step> wanted_before(const Step& step) override {
    if (step.kind != StepKind::leads_after || complete_) return std::nullopt;
    const Verdict so_far =
        judge_all(parts_.profile, expected_, measured(), inspection_, parts_.meter, leads_now(), judge_);
    const auto place = plan_->next(so_far.findings, skipped_, leads_now());
    if (!place) {
      const bool wanted = !apart_asked_ && !so_far.findings.empty() && !tips_seen_apart(so_far.findings, leads_now());
      return wanted ? std::optional{apart_step()} : std::nullopt;
    }
    const auto expected = std::find_if(expected_.begin(), expected_.end(), [&](const Expectation& e) {
      return e.position == place->position && e.pair == place->pair;
    });
    return measure_step(parts_.profile, *expected, probes_on_);
  }

  void skipped(const Step& step) override {
    apart_asked_ |= step.kind == StepKind::leads_apart;
    if (step.kind == StepKind::measure) skipped_.push_back({step.arrangement.position, step.arrangement.pair});
    // Leads that were refused are not got rid of by leaving them out.
    if (is_lead_step(step) && refused_lead_) keep_lead(step, *refused_lead_);
    refused_lead_.reset();
  }

  std::string cannot_skip(const Step& step) const override {
    if (parts_.settings.measure_only && Procedure::cannot_skip(step).empty())
      return "Nothing can be skipped: a part is learned from every pair at every position. q stops, and the work can be gone "
             "on with later.";
    if (Procedure::cannot_skip(step).empty() || acknowledgement_is_optional(step)) return {};
    return "Safety steps cannot be skipped: the part must be proven dead before resistance is measured.";
  }

  std::optional<std::string> acknowledged_by(const Step& step) const override {
    if (step.acknowledges == "de-energised") return parts_.settings.acknowledged_by;
    if (step.acknowledges == "never-connected" && parts_.settings.sitting) return parts_.settings.sitting->who;
    const auto found = parts_.settings.absence_stated.find(step.acknowledges);
    return found == parts_.settings.absence_stated.end() ? std::nullopt : std::optional{found->second};
  }
  bool acknowledgement_is_optional(const Step& step) const override {
    return step.kind == StepKind::acknowledge && step.acknowledges != "de-energised" &&
           step.acknowledges != "never-connected" && step.acknowledges != "locked-off";
  }
  void acknowledged(const Step& step, const std::string& who) override {
    if (acknowledgement_is_optional(step)) proving_.stated(step.acknowledges, who);
  }

  std::size_t resume(const Record& earlier) override {
    take_leads(earlier);
    std::size_t readings = 0;
    for (Measured& measured : measured_in(earlier)) {
      placement_ = measured.placement;
      if (measured.contact_stated) stated_placements_.insert(placement_);
      int& visits = visits_before_[{measured.position, measured.pair}];
      readings += measured.visit > visits;
      visits = std::max(visits, measured.visit);
      measured_.push_back(std::move(measured));
    }
    given_up_ = given_up_in(earlier);
    if (readings > 0)
      earlier_sitting_ = fmt::format(
          "{} begun at {}: that the part at hand is the same, and that nothing was done to it meanwhile, is taken on trust.",
          readings == 1 ? "One of the readings is from an earlier sitting"
                        : fmt::format("{} of the readings are from an earlier sitting", readings),
          iso8601(measured_.front().indication.from.wall));
    complete_ = !lead_readings_.empty() && lead_readings_.back().at_end && everything_is_measured();
    return readings;
  }

  bool done_already(const Step& step) const override {
    if (complete_) return step.kind != StepKind::inspect;
    if (step.kind != StepKind::measure) return false;
    const auto before = visits_before_.find({step.arrangement.position, step.arrangement.pair});
    return before != visits_before_.end() && step.visit <= before->second;
  }

  int placement() const override { return placement_; }

  void shown(const Step& step) override {
    if (step.arrangement.probes == Probes::on_pair) {
      if (!probes_on_ || !(*probes_on_ == step.arrangement.pair)) placement_ = ++parts_.placements;
      probes_on_ = step.arrangement.pair;
    } else {
      probes_on_.reset();
    }
  }

  void forget_placement(const Step& step) override {
    // What was read before the probes moved cannot witness what is read after. What an earlier sitting read stands.
    (void)step;
    probes_on_.reset();
    for (Measured& m : measured_) {
      m.given_up = m.placement == placement_;
      if (m.given_up) given_up_.push_back(m);
    }
    std::erase_if(measured_, [](const Measured& m) { return m.given_up; });
  }

  void seen(const Step& step, const Reading& reading) override { proving_.seen(step, reading); }

  /// Volts where there must be none. A person may still hold the probes on the known source when the leads step is shown;
  /// there the reading is refused and that is all.
  std::optional<Trouble> danger(const Step& step, const Reading& reading) const override {
    const bool probes_are_there = step.kind == StepKind::measure || parts_.unattended;
    if (ProvingDead::is_part_of(step.kind) || !probes_are_there || !is_voltage(reading.quantity) || !reading.finite() ||
        std::abs(reading.value) <= parts_.settings.volts_present_v)
      return std::nullopt;
    return Trouble{
        Trouble::Then::close, "volts-present",
        fmt::format("The meter shows {} while resistance is to be measured. Resistance work is stopped: take the "
                    "probes off, disconnect the part and prove it dead.",
                    human_value(reading.value, reading.quantity, reading.resolution))};
  }

  std::optional<Trouble> objection(const Step& step, const Indication& indication) override {
    if (ProvingDead::is_part_of(step.kind)) return proving_.objection(step, indication);
    if (is_lead_step(step)) return objection_to_leads(step, indication);
    if (step.kind == StepKind::leads_apart) return objection_to_apart(indication);
    return step.kind == StepKind::measure ? objection_to_value(step, indication) : std::nullopt;
  }

  bool needs_contact_statement(const Step& step, const Indication& indication) const override {
    return step.kind == StepKind::measure && step.last_of_placement && !parts_.contact_is_sure &&
           (indication.state == ReadingState::over_range || could_be_fingers(indication)) &&
           witness_now(step, indication, false) == Witness::missing;
  }

  std::string contact_words(const Step& step) const override {
    return Procedure::contact_words(step) + " (Megohms may be fingers on the tips.)";
  }

  /// The known source must only be seen to be live.
  SettleRule settle_rule(const Step& step, const SettleRule& usual) const override {
    constexpr double share_of_source = 0.02;
    return settling_volts(step, usual, parts_.settings.volts_present_v, share_of_source);
  }

  void look_ahead(const Step& step, Settled& settled) const override {
    if (step.expected && !parts_.settings.measure_only)
      settled.outlook = judged_now(step, settled.indication, parts_.contact_is_sure);
  }

  std::optional<Note> keep(Kept& kept) override {
    const Step& step = kept.step;
    if (ProvingDead::is_part_of(step.kind)) proving_.keep(step, kept.indication);
    if (step.kind == StepKind::measure) {
      if (kept.contact_stated) stated_placements_.insert(placement_);
      if (!parts_.settings.measure_only) kept.finding = judged_now(step, kept.indication, kept.contact_stated);
      measured_.push_back({step.arrangement.position, step.arrangement.pair, kept.indication, placement_,
                           kept.contact_stated, step.visit});
      return std::nullopt;
    }
    if (step.kind == StepKind::leads_apart) {
      apart_asked_ = true;
      apart_ = kept.indication;
      const auto objection = apart_objection(kept.indication);
      return objection ? std::optional{Note{"leads-refused", *objection}} : std::nullopt;
    }
    if (!is_lead_step(step)) return std::nullopt;
    const auto objection = lead_objection(kept.indication, leads_but(step.number), parts_.meter, judge_.k);
    keep_lead(step, kept.indication);
    if (!objection) return std::nullopt;
    return Note{"leads-refused", *objection + " Nothing can pass with such leads."};
  }

  InspectionFinding answered(const Step& step, std::optional<bool> yes, const std::string& note) override {
    InspectionFinding result;
    for (InspectionFinding& finding : inspection_) {
      if (finding.question.ask != step.question->ask) continue;
      finding.answer = yes;
      finding.note = note;
      result = finding;
    }
    return result;
  }

  Verdict verdict() const override {
    Verdict verdict =
        judge_all(parts_.profile, expected_, measured(), inspection_, parts_.meter, leads(), judge_, left_out());
    if (!earlier_sitting_.empty()) verdict.remarks.push_back(earlier_sitting_);
    if (parts_.settings.knowledge && !parts_.settings.measure_only)
      add_diagnosis(verdict, parts_.profile, *parts_.settings.knowledge, parts_.meter, leads(), judge_.k);
    if (const auto& sitting = parts_.settings.sitting) {
      verdict.remarks.push_back(sitting->rule);
      return verdict;
    }
    const ProvingDead::Summary dead = proving_.summary();
    verdict.remarks.insert(verdict.remarks.end(), dead.remarks.begin(), dead.remarks.end());
    if (!dead.proven && verdict.scope[ScopePart::continuity].decided == Decided::pass) {
      verdict.scope.undecided(ScopePart::continuity, "the part is not proven dead", dead.remarks.back());
      conclude(verdict);
    }
    return verdict;
  }

  Leads leads() const override { return leads_but(0); }

 private:
  std::vector<Measured> measured() const {
    std::vector<Measured> all = measured_;
    all.insert(all.end(), given_up_.begin(), given_up_.end());
    for (Measured& m : all) m.contact_stated = stated_placements_.contains(m.placement);
    return all;
  }

  static bool is_lead_step(const Step& step) {
    return step.kind == StepKind::leads_before || step.kind == StepKind::leads_after;
  }

  LeftOut left_out() const {
    LeftOut without = plan_->left_out();
    without.hidden = hidden_;
    return without;
  }

  static constexpr int leads_of_the_unit_before = -1;  ///< no step of this record

  /// One reading of the leads per step; a step that is done again replaces its own.
  struct LeadReading {
    int step = 0;
    bool at_end = false;
    Indication indication;
  };

  void keep_lead(const Step& step, const Indication& indication) {
    std::erase_if(lead_readings_, [&](const LeadReading& reading) { return reading.step == step.number; });
    lead_readings_.push_back({step.number, step.kind == StepKind::leads_after, indication});
  }

  /// Those of all sittings.
  void take_leads(const Record& earlier) {
    std::map<int, std::string> kinds;
    for (const StepRow& row : earlier.steps) kinds[row.step] = row.kind;
    for (const IndicationRow& row : earlier.indications) {
      const std::string& kind = kinds[row.step];
      if (kind == to_string(StepKind::leads_apart)) apart_ = row.indication;
      const bool at_end = kind == to_string(StepKind::leads_after);
      if (!at_end && kind != to_string(StepKind::leads_before)) continue;
      std::erase_if(lead_readings_, [&](const LeadReading& reading) { return reading.step == row.step; });
      lead_readings_.push_back({row.step, at_end, row.indication});
    }
  }

  /// What is known of the leads without what a step has given.
  Leads leads_but(int step) const {
    Leads leads;
    leads.apart = apart_;
    for (const LeadReading& reading : lead_readings_) {
      if (reading.step == step) continue;
      std::optional<Indication>& at = reading.at_end ? leads.after : leads.before;
      // The first before, the last after; all others lie between.
      if (at) leads.between.push_back(reading.at_end ? *at : reading.indication);
      if (!at || reading.at_end) at = reading.indication;
    }
    return leads;
  }

  /// While the work goes on nobody knows the leads at its end yet: taken to be as they are.
  Leads leads_now() const {
    Leads leads = this->leads();
    if (!leads.after) leads.after = leads.before;
    return leads;
  }

  Finding judged_now(const Step& step, const Indication& indication, bool stated) const {
    return judge(*step.expected, indication, witness_now(step, indication, stated), parts_.profile, parts_.meter,
                 leads_now(), judge_);
  }

  std::optional<Trouble> objection_to_leads(const Step& step, const Indication& indication) {
    using Then = Trouble::Then;
    const auto objection = lead_objection(indication, leads_but(step.number), parts_.meter, judge_.k);
    refused_lead_.reset();
    if (!objection) return std::nullopt;
    if (!parts_.unattended) {
      refused_lead_ = indication;
      return Trouble{Then::stay, "leads-refused", *objection};
    }
    if (indication.state == ReadingState::finite) return std::nullopt;  // kept, and the verdict cannot be pass
    return Trouble{Then::stop, "meter", "The shorted probes read over-range: a lead is broken or not plugged in."};
  }

  std::optional<Trouble> objection_to_apart(const Indication& indication) const {
    const auto objection = apart_objection(indication);
    if (!objection || parts_.unattended) return std::nullopt;  // kept, and the verdict cannot be pass
    return Trouble{Trouble::Then::stay, "leads-refused", *objection};
  }

  /// Less than nothing is no resistance.
  std::optional<Trouble> objection_to_value(const Step& step, const Indication& indication) const {
    using Then = Trouble::Then;
    constexpr double certainly_a_voltage_ohm = 1.0;
    const Finding finding = judged_now(step, indication, true);
    if (!finding.corrected || !finding.U || *finding.corrected >= -*finding.U) return std::nullopt;
    if (!parts_.unattended) return Trouble{Then::stay, "impossible-value", finding.sentence};
    if (*finding.corrected >= -*finding.U - certainly_a_voltage_ohm) return std::nullopt;
    return Trouble{Then::close, "volts-present", finding.sentence + " Resistance work is stopped."};
  }

  bool everything_is_measured() const {
    std::map<std::pair<std::string, Pair>, int> planned;
    for (const Expectation& e : expected_)
      if (e.state != PairState::not_checked) planned[{e.position, e.pair}] = 1;
    std::map<std::pair<std::string, Pair>, int> on_the_way;
    for (const Placement& placement : plan_->route())
      for (const std::string& position : placement.positions)
        planned[{position, placement.pair}] = ++on_the_way[{position, placement.pair}];
    return std::all_of(planned.begin(), planned.end(), [&](const auto& place) {
      const auto before = visits_before_.find(place.first);
      return before != visits_before_.end() && before->second >= place.second;
    });
  }

  Witness witness_now(const Step& step, const Indication& indication, bool stated) const {
    const Measured now{step.arrangement.position,
                       step.arrangement.pair,
                       indication,
                       placement_,
                       stated || stated_placements_.contains(placement_),
                       step.visit};
    return witness_of(now, measured_, expected_);
  }

  ProcedureParts parts_;
  JudgeSettings judge_;
  ProvingDead proving_;
  std::vector<Expectation> expected_;
  std::unique_ptr<MeasurePlan> plan_;
  std::vector<Place> skipped_;
  std::optional<Pair> probes_on_;
  int placement_ = 0;
  std::optional<HiddenByWiring> hidden_;  ///< of a part that stays wired
  std::vector<Measured> measured_;
  std::vector<Measured> given_up_;  ///< read before a probe slipped
  std::string earlier_sitting_;     ///< a remark; empty: all was read in this one
  std::set<int> stated_placements_;
  std::map<std::pair<std::string, Pair>, int> visits_before_;  ///< of earlier sittings
  std::vector<InspectionFinding> inspection_;
  std::vector<LeadReading> lead_readings_;
  std::optional<Indication> refused_lead_;  ///< what the person was told to put right
  std::optional<Indication> apart_;         ///< with the tips held apart
  bool apart_asked_ = false;
  bool complete_ = false;
};

}  // namespace

std::unique_ptr<Procedure> continuity_procedure(const ProcedureParts& parts) {
  return std::make_unique<Continuity>(parts);
}

}  // namespace switchwright
