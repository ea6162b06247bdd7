// The part under power: the supply is switched on by whoever the hands are, every pair is read in AC volts at every
// position, and the supply is switched off again. The supply is read first and last, which also proves the meter on AC
// volts before and after every pair that is called dead.
#include <fmt/format.h>

#include <cmath>
#include <map>
#include <set>
#include <utility>

#include "bench/procedure.hpp"
#include "switchwright/bench/plan.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/judge/judge_voltage.hpp"

namespace switchwright {

namespace {

class UnderPower final : public Procedure {
 public:
  explicit UnderPower(const ProcedureParts& parts) : parts_(parts), expected_(voltage_expectations(parts.profile)) {}

  std::vector<Step> plan(int first_number) const override { return plan_powered(parts_.profile, expected_, first_number); }

  std::vector<std::string> warnings() const override {
    return undecidable_voltages(parts_.profile, parts_.meter, parts_.settings.judge.k);
  }

  std::size_t resume(const Record& earlier) override {
    std::map<int, const StepRow*> step_rows;
    for (const StepRow& row : earlier.steps) step_rows[row.step] = &row;
    for (const IndicationRow& row : earlier.indications) {
      const auto found = step_rows.find(row.step);
      if (found == step_rows.end()) continue;
      if (found->second->kind == to_string(StepKind::supply_on)) earlier_supply_ = row.indication;
      if (found->second->kind != to_string(StepKind::voltage)) continue;
      const Pair pair{found->second->pair_first, found->second->pair_second};
      measured_.push_back({found->second->position, pair, row.indication});
      measured_before_.insert({found->second->position, pair});
    }
    return measured_before_.size();
  }

  bool done_already(const Step& step) const override {
    return step.kind == StepKind::voltage &&
           measured_before_.contains({step.arrangement.position, step.arrangement.pair});
  }

  std::optional<std::string> acknowledged_by(const Step&) const override { return parts_.settings.energised_by; }

  void shown(const Step& step) override {
    if (step.kind == StepKind::supply_on) live_ = true;
  }

  std::optional<Trouble> objection(const Step& step, const Indication& indication) override {
    using Then = Trouble::Then;
    if (step.kind == StepKind::supply_on) {
      supply_.at_start = indication;
      const VoltageFinding supply = judge_now(step, indication);
      if (supply.outcome != Outcome::fail) return std::nullopt;
      return Trouble{parts_.unattended ? Then::close : Then::stay, "supply",
                     supply.sentence + " The part is not judged by such a supply: put it right and measure again."};
    }
    if (step.kind == StepKind::supply_off) {
      const bool off = indication.state == ReadingState::finite &&
                       std::abs(indication.value) <= parts_.profile.powered->dead_max_v;
      if (off) return std::nullopt;
      return Trouble{parts_.unattended ? Then::close : Then::stay, "supply-still-on",
                     fmt::format("The supply still reads {}: switch it off, and touch nothing before it is.",
                                 indication.state == ReadingState::finite
                                     ? human_value(indication.value, indication.quantity, indication.resolution)
                                     : "over-range")};
    }
    return std::nullopt;
  }

  void look_ahead(const Step& step, Settled& settled) const override {
    if (is_judged(step.kind)) settled.voltage_outlook = judge_now(step, settled.indication);
  }

  std::optional<Note> keep(Kept& kept) override {
    const Step& step = kept.step;
    if (is_judged(step.kind)) kept.voltage = judge_now(step, kept.indication);
    if (step.kind == StepKind::voltage)
      measured_.push_back({step.arrangement.position, step.arrangement.pair, kept.indication});
    else if (step.kind == StepKind::supply_at_end)
      supply_.at_end = kept.indication;
    else if (step.kind == StepKind::supply_off)
      live_ = false;
    return std::nullopt;
  }

  Verdict verdict() const override {
    Verdict verdict =
        judge_voltages(parts_.profile, expected_, measured_, supply_, parts_.meter, parts_.settings.judge);
    if (!measured_before_.empty())
      verdict.remarks.push_back(fmt::format(
          "{} of the voltages {} read in an earlier sitting; its supply {}.", measured_before_.size(),
          measured_before_.size() == 1 ? "was" : "were",
          earlier_supply_ && earlier_supply_->state == ReadingState::finite
              ? fmt::format("read {} when it was switched on",
                            human_value(earlier_supply_->value, earlier_supply_->quantity, earlier_supply_->resolution))
              : "was not kept"));
    return verdict;
  }

  std::optional<Arrangement> make_safe() const override {
    if (!live_) return std::nullopt;
    Arrangement off;
    off.dial = Quantity::voltage_ac;
    off.power = false;
    return off;
  }

 private:
  static bool is_judged(StepKind kind) {
    return kind == StepKind::voltage || kind == StepKind::supply_on || kind == StepKind::supply_at_end;
  }

  VoltageFinding judge_now(const Step& step, const Indication& indication) const {
    if (step.kind == StepKind::voltage)
      return judge_voltage(*step.expected_v, indication, parts_.profile, parts_.meter, parts_.settings.judge);
    return judge_supply(indication, step.kind == StepKind::supply_on ? "at the start" : "at the end", parts_.profile,
                        parts_.meter, parts_.settings.judge);
  }

  ProcedureParts parts_;
  std::vector<VoltageExpectation> expected_;
  std::vector<MeasuredVoltage> measured_;
  std::set<std::pair<std::string, Pair>> measured_before_;
  SupplyReadings supply_;
  std::optional<Indication> earlier_supply_;  ///< of the sitting that is gone on with
  bool live_ = false;  ///< the supply was asked to be on and was not yet seen to be off
};

}  // namespace

std::unique_ptr<Procedure> powered_procedure(const ProcedureParts& parts) { return std::make_unique<UnderPower>(parts); }

}  // namespace switchwright
