// The part without power: the part is proven dead, the leads are measured, and every pair is read in ohms at every
// position.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <set>
#include <utility>

#include "bench/procedure.hpp"
#include "switchwright/bench/measure_plan.hpp"
#include "switchwright/analysis/measured.hpp"
#include "switchwright/bench/plan.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/profile/route.hpp"

namespace switchwright {

namespace {

bool is_voltage_step(StepKind kind) {
  return kind == StepKind::prove_meter || kind == StepKind::absence || kind == StepKind::prove_meter_again;
}

Quantity voltage_dial(const MeterDefinition& meter) {
  return meter.finest(Quantity::voltage_ac) || !meter.finest(Quantity::voltage_dc) ? Quantity::voltage_ac
                                                                                    : Quantity::voltage_dc;
}

class Continuity final : public Procedure {
 public:
  explicit Continuity(const ProcedureParts& parts)
      : parts_(parts),
        expected_(expectations(parts.profile)),
        plan_(make_measure_plan(parts.settings.plan, parts.profile, expected_, parts.meter, parts.settings.judge,
                                parts.settings.knowledge.get(), parts.settings.cost)) {
    for (const auto& question : parts_.profile.inspect) inspection_.push_back({question, parts_.settings.inspection, ""});
  }

  std::vector<Step> plan(int) const override {
    return plan_qualification(parts_.profile, expected_, plan_->route(), voltage_dial(parts_.meter));
  }

  std::vector<std::string> warnings() const override {
    if (parts_.settings.measure_only) return {};  // nothing is decided
    return undecidable(parts_.profile, parts_.meter, parts_.settings.judge.k);
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
    const Verdict so_far = judge_all(parts_.profile, expected_, measured(), inspection_, parts_.meter, leads_, parts_.settings.judge);
    const auto place = plan_->next(so_far.findings, skipped_, leads_);
    if (!place) return std::nullopt;
    const auto expected = std::find_if(expected_.begin(), expected_.end(), [&](const Expectation& e) {
      return e.position == place->position && e.pair == place->pair;
    });
    return measure_step(parts_.profile, *expected, probes_on_);
  }

  void skipped(const Step& step) override {
    if (step.kind == StepKind::measure) skipped_.push_back({step.arrangement.position, step.arrangement.pair});
  }

  std::size_t resume(const Record& earlier) override {
    leads_.before = earlier.leads_before;
    for (Measured& measured : measured_in(earlier)) {
      placement_ = measured.placement;
      if (measured.contact_stated) stated_placements_.insert(placement_);
      measured_before_.insert({measured.position, measured.pair});
      measured_.push_back(std::move(measured));
    }
    if (earlier.leads_after && everything_is_measured()) {
      leads_.after = earlier.leads_after;
      complete_ = true;
    }
    return measured_before_.size();
  }

  bool done_already(const Step& step) const override {
    if (complete_) return step.kind != StepKind::inspect;
    return step.kind == StepKind::measure &&
           measured_before_.contains({step.arrangement.position, step.arrangement.pair});
  }

  void shown(const Step& step) override {
    if (step.arrangement.probes == Probes::on_pair) {
      if (!probes_on_ || !(*probes_on_ == step.arrangement.pair)) ++placement_;
      probes_on_ = step.arrangement.pair;
    } else {
      probes_on_.reset();
    }
  }

  void forget_placement(const Step& step) override {
    // What was read before the probes moved cannot witness what is read after.
    probes_on_.reset();
    std::erase_if(measured_, [&](const Measured& m) { return m.placement == placement_; });
    std::erase_if(measured_before_, [&](const auto& place) { return place.second == step.arrangement.pair; });
  }

  /// Volts where there must be none. A person may still hold the probes on the known source when the leads step is shown;
  /// there the reading is refused and that is all.
  std::optional<Trouble> danger(const Step& step, const Reading& reading) const override {
    const bool probes_are_there = step.kind == StepKind::measure || parts_.unattended;
    if (is_voltage_step(step.kind) || !probes_are_there || !is_voltage(reading.quantity) || !reading.finite() ||
        std::abs(reading.value) <= parts_.settings.volts_present_v)
      return std::nullopt;
    return Trouble{Trouble::Then::close, "volts-present",
                   fmt::format("The meter shows {} while resistance is to be measured. Resistance work is stopped: take the "
                               "probes off, disconnect the part and prove it dead.",
                               human_value(reading.value, reading.quantity, reading.resolution))};
  }

  std::optional<Trouble> objection(const Step& step, const Indication& indication) override {
    using Then = Trouble::Then;
    const double most_v = parts_.settings.volts_present_v;
    const bool finite = indication.state == ReadingState::finite;
    const std::string value =
        finite ? human_value(indication.value, indication.quantity, indication.resolution) : "over-range";
    switch (step.kind) {
      case StepKind::prove_meter:
      case StepKind::prove_meter_again:
        // Over-range is also what an open lead or a wrong dial shows: it proves nothing.
        if (finite && std::abs(indication.value) > most_v) return std::nullopt;
        if (parts_.unattended)
          return Trouble{Then::stop, "meter",
                         "The meter shows " + value + " on a source known to be live: it is not proven. Do not go on with it."};
        return Trouble{Then::stay, "meter-not-proven",
                       "The meter shows " + value +
                           " on the known source. Check source, leads, dial and fuse, then try again; without a proven meter "
                           "the part cannot be called dead."};
      case StepKind::absence:
        if (finite && std::abs(indication.value) <= most_v) return std::nullopt;
        return Trouble{Then::close, "volts-present",
                       fmt::format("{} is present on {} ({} at most is taken as dead). Resistance work is stopped: take the "
                                   "probes off, disconnect the part and prove it dead.",
                                   value, step.arrangement.pair.text(), human_value(most_v, indication.quantity))};
      case StepKind::leads_before:
      case StepKind::leads_after:
        if (finite) return std::nullopt;
        if (parts_.unattended)
          return Trouble{Then::stop, "meter", "The shorted probes read over-range: a lead is broken or not plugged in."};
        return Trouble{Then::stay, "leads-open",
                       "Over-range with the probes together: press the tips firmly together, or replace a broken lead."};
      default:
        return std::nullopt;
    }
  }

  bool needs_contact_statement(const Step& step, const Indication& indication) const override {
    return step.kind == StepKind::measure && step.last_of_placement && !parts_.contact_is_sure &&
           witness_now(indication, false) == Witness::missing;
  }

  /// Volts are read against the limit for dead, and the known source must only be seen to be live: neither needs two
  /// digits of a fine display, and mains never stands still to that.
  SettleRule settle_rule(const Step& step, const SettleRule& usual) const override {
    SettleRule rule = usual;
    if (!is_voltage(step.arrangement.dial)) return rule;
    rule.floor_v = std::max(rule.floor_v, 0.1 * parts_.settings.volts_present_v);
    rule.share_v = std::max(rule.share_v, 0.02);
    return rule;
  }

  void look_ahead(const Step& step, Settled& settled) const override {
    if (step.expected && !parts_.settings.measure_only)
      settled.outlook = judge(*step.expected, settled.indication, witness_now(settled.indication, parts_.contact_is_sure),
                              parts_.profile, parts_.meter, leads_, parts_.settings.judge);
  }

  std::optional<Note> keep(Kept& kept) override {
    const Step& step = kept.step;
    if (step.kind == StepKind::measure) {
      if (kept.contact_stated) stated_placements_.insert(placement_);
      if (!parts_.settings.measure_only)
        kept.finding = judge(*step.expected, kept.indication, witness_now(kept.indication, kept.contact_stated),
                           parts_.profile, parts_.meter, leads_, parts_.settings.judge);
      measured_.push_back(
          {step.arrangement.position, step.arrangement.pair, kept.indication, placement_, kept.contact_stated});
      return std::nullopt;
    }
    if (step.kind != StepKind::leads_before && step.kind != StepKind::leads_after) return std::nullopt;
    if (step.kind == StepKind::leads_after)
      leads_.after = kept.indication;
    else if (!leads_.before)
      leads_.before = kept.indication;
    if (kept.indication.value <= 1.0) return std::nullopt;
    return Note{"leads-high",
                fmt::format("The leads read {}: that is much. Good leads have 0.1 to 0.3 ohm; clean the plugs and tips.",
                            human_value(kept.indication.value, kept.indication.quantity, kept.indication.resolution))};
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
    Verdict verdict = judge_all(parts_.profile, expected_, measured(), inspection_, parts_.meter, leads_,
                                parts_.settings.judge, plan_->left_out());
    if (parts_.settings.knowledge && !parts_.settings.measure_only)
      add_diagnosis(verdict, parts_.profile, *parts_.settings.knowledge, parts_.meter, leads_, parts_.settings.judge.k);
    return verdict;
  }

  Leads leads() const override { return leads_; }

 private:
  std::vector<Measured> measured() const {
    std::vector<Measured> all = measured_;
    for (Measured& m : all) m.contact_stated = stated_placements_.contains(m.placement);
    return all;
  }

  bool everything_is_measured() const {
    return std::all_of(expected_.begin(), expected_.end(), [&](const Expectation& e) {
      return e.state == PairState::not_checked || measured_before_.contains({e.position, e.pair});
    });
  }

  Witness witness_now(const Indication& indication, bool stated) const {
    if (indication.state == ReadingState::finite) return Witness::not_needed;
    const bool witnessed = std::any_of(measured_.begin(), measured_.end(), [&](const Measured& m) {
      return m.placement == placement_ && m.indication.state == ReadingState::finite;
    });
    if (witnessed) return Witness::witnessed;
    return stated || stated_placements_.contains(placement_) ? Witness::stated : Witness::missing;
  }

  ProcedureParts parts_;
  std::vector<Expectation> expected_;
  std::unique_ptr<MeasurePlan> plan_;
  std::vector<Place> skipped_;
  std::optional<Pair> probes_on_;
  int placement_ = 0;
  std::vector<Measured> measured_;
  std::set<int> stated_placements_;
  std::set<std::pair<std::string, Pair>> measured_before_;
  std::vector<InspectionFinding> inspection_;
  Leads leads_;
  bool complete_ = false;
};

}  // namespace

std::unique_ptr<Procedure> continuity_procedure(const ProcedureParts& parts) { return std::make_unique<Continuity>(parts); }

}  // namespace switchwright
