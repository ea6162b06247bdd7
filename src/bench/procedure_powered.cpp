// The part under power: the supply is switched by whoever the hands are, every pair is read in AC volts at every position,
// and the probes move with the supply off. Before: the part is proven dead where nothing of this sitting has done it, and
// exposed metal is seen to be bonded to earth; the bond is measured again after. The supply is read first and last, which
// also proves the meter on AC volts before and after every pair that is called dead.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <set>
#include <utility>

#include "bench/procedure.hpp"
#include "bench/proving.hpp"
#include "switchwright/analysis/measured.hpp"
#include "switchwright/bench/plan.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/judge/judge_voltage.hpp"

namespace switchwright {

namespace {

using Then = Trouble::Then;

class UnderPower final : public Procedure {
 public:
  explicit UnderPower(const ProcedureParts& parts)
      : parts_(parts),
        expected_(voltage_expectations(parts.profile)),
        proving_(parts.meter, parts.settings.volts_present_v, parts.unattended) {
    for (const std::string& metal : bonded_metal(parts.profile)) bonds_.push_back({metal, {}, {}});
  }

  std::vector<Step> plan(int first_number) const override {
    PoweredPlanSettings settings;
    settings.first_number = first_number;
    settings.live_moves = parts_.settings.live_moves;
    settings.cost = parts_.settings.cost;
    if (parts_.settings.powered == PoweredPart::only) settings.prove_dead_with = &parts_.meter;
    return plan_powered(parts_.profile, expected_, settings);
  }

  std::vector<std::string> warnings() const override {
    return undecidable_voltages(parts_.profile, parts_.meter, parts_.settings.judge.k);
  }

  /// Only pairs that were read at all their positions count: the probes of the others have moved since.
  std::size_t resume(const Record& earlier) override {
    std::map<int, const StepRow*> step_rows;
    for (const StepRow& row : earlier.steps) step_rows[row.step] = &row;
    // A pair counts as done when one placement of the probes has seen all of it; readings of two cannot witness each other.
    // Older versions wrote no placement, and took a pair for one.
    std::map<Pair, std::map<int, std::vector<MeasuredVoltage>>> by_pair;
    const std::set<int> given_up = given_up_placements(earlier);
    for (const IndicationRow& row : earlier.indications) {
      const auto found = step_rows.find(row.step);
      if (found == step_rows.end()) continue;
      if (found->second->kind == to_string(StepKind::voltage) && given_up.contains(row.placement))
        given_up_.push_back({found->second->position,
                             {found->second->pair_first, found->second->pair_second},
                             row.indication,
                             row.placement,
                             row.contact_stated,
                             true});
      if (given_up.contains(row.placement)) continue;
      if (found->second->kind == to_string(StepKind::supply_on)) earlier_supply_ = row.indication;
      if (found->second->kind != to_string(StepKind::voltage)) continue;
      const Pair pair{found->second->pair_first, found->second->pair_second};
      by_pair[pair][row.placement].push_back(
          {found->second->position, pair, row.indication, row.placement, row.contact_stated});
    }
    std::size_t taken = 0;
    for (auto& [pair, placements] : by_pair) {
      const auto whole = std::find_if(placements.rbegin(), placements.rend(), [&, &read_pair = pair](const auto& one) {
        return is_complete(read_pair, one.second);
      });
      for (auto& [placement, readings] : placements)
        if (whole == placements.rend() || placement != whole->first)
          for (MeasuredVoltage& reading : readings) {
            reading.given_up = true;
            given_up_.push_back(std::move(reading));
          }
      if (whole == placements.rend()) continue;
      done_before_.insert(pair);
      taken += whole->second.size();
      const int placement = whole->first > 0 ? whole->first : ++parts_.placements;
      for (MeasuredVoltage& reading : whole->second) {
        reading.placement = placement;
        if (reading.contact_stated) stated_placements_.insert(placement);
        measured_.push_back(std::move(reading));
      }
    }
    return taken_before_ = taken;
  }

  bool done_already(const Step& step) const override {
    if (!done_before_.contains(step.arrangement.pair)) return false;
    const bool about_the_supply = step.arrangement.pair == parts_.profile.powered->supply;
    return step.kind == StepKind::voltage ||
           (!about_the_supply && (step.kind == StepKind::placed_dead || step.kind == StepKind::supply_off));
  }

  std::optional<std::string> acknowledged_by(const Step& step) const override {
    if (step.acknowledges == "energised") return parts_.settings.energised_by;
    const auto found = parts_.settings.absence_stated.find(step.acknowledges);
    return found == parts_.settings.absence_stated.end() ? std::nullopt : std::optional{found->second};
  }
  bool acknowledgement_is_optional(const Step& step) const override {
    return step.kind == StepKind::acknowledge && step.acknowledges != "energised";
  }
  void acknowledged(const Step& step, const std::string& who) override {
    if (acknowledgement_is_optional(step)) proving_.stated(step.acknowledges, who);
  }

  std::string cannot_skip(const Step& step) const override {
    if (step.kind == StepKind::voltage || acknowledgement_is_optional(step)) return {};
    if (ProvingDead::is_part_of(step.kind))
      return "Safety steps cannot be skipped: the part must be proven dead before it is wired and energised.";
    return "This step cannot be skipped: the bonds and the supply are read first and last, and the supply is switched off and "
           "seen to be off.";
  }

  bool contact_can_be_stated(const Step& step) const override { return step.kind == StepKind::voltage; }
  std::string contact_words(const Step&) const override {
    return "No voltage at any position here: that is also what a probe off the metal, or a supply that is off, looks like. "
           "Press c if both probes touch bare metal and the supply is on, p to place the probes again.";
  }
  /// A probe is placed again with the supply off, where it was placed.
  bool same_placement(const Step& a, const Step& b) const override {
    return a.arrangement.pair == b.arrangement.pair && (a.kind == b.kind || a.kind == StepKind::placed_dead);
  }

  void seen(const Step& step, const Reading& reading) override { proving_.seen(step, reading); }

  int placement() const override { return placement_; }

  void shown(const Step& step) override {
    if (step.arrangement.power.value_or(false)) live_ = true;
    if (step.arrangement.probes != Probes::on_pair)
      probes_on_.reset();
    else if (!probes_on_ || !(*probes_on_ == step.arrangement.pair)) {
      placement_ = ++parts_.placements;
      probes_on_ = step.arrangement.pair;
    }
  }

  void forget_placement(const Step& step) override {
    probes_on_.reset();
    for (MeasuredVoltage& m : measured_) {
      m.given_up = m.placement == placement_;
      if (m.given_up) given_up_.push_back(m);
    }
    std::erase_if(measured_, [](const MeasuredVoltage& m) { return m.given_up; });
    done_before_.erase(step.arrangement.pair);
  }

  std::optional<Trouble> danger(const Step& step, const Reading& reading) const override {
    const bool in_ohms = step.kind == StepKind::bond || step.kind == StepKind::bond_at_end;
    if (!in_ohms || !is_voltage(reading.quantity) || !reading.finite() ||
        std::abs(reading.value) <= parts_.settings.volts_present_v)
      return std::nullopt;
    return Trouble{parts_.unattended ? Then::close : Then::stay, "volts-present",
                   fmt::format("The meter shows {} where a bond is to be measured in ohms with the supply off.",
                               human_value(reading.value, reading.quantity, reading.resolution))};
  }

  std::optional<Trouble> objection(const Step& step, const Indication& indication) override {
    if (ProvingDead::is_part_of(step.kind)) return proving_.objection(step, indication);
    switch (step.kind) {
      case StepKind::supply_on: supply_.at_start = indication; return wrong_supply(judge_now(step, indication, false));
      case StepKind::voltage: {
        if (!step.expected_v->of_the_supply) return std::nullopt;
        const auto trouble = wrong_supply(judge_now(step, indication, parts_.contact_is_sure));
        if (trouble && trouble->then == Then::close)
          measured_.push_back({step.arrangement.position, step.arrangement.pair, indication, placement_, false});
        return trouble;
      }
      case StepKind::placed_dead:
      case StepKind::supply_off: return still_on(indication);
      case StepKind::bond: {
        const BondFinding bond =
            judge_bond(step.arrangement.pair.first(), indication, parts_.profile, parts_.meter, parts_.settings.judge);
        if (bond.outcome == Outcome::pass) return std::nullopt;
        return Trouble{parts_.unattended ? Then::close : Then::stay, "bond",
                       bond.sentence + " Nothing is energised before it is: put the bond right and measure again."};
      }
      default: return std::nullopt;
    }
  }

  /// At the last position of a placement that showed no volts anywhere.
  bool needs_contact_statement(const Step& step, const Indication& indication) const override {
    if (step.kind != StepKind::voltage || !step.last_of_placement || parts_.contact_is_sure) return false;
    std::vector<MeasuredVoltage> here = measured();
    here.push_back({step.arrangement.position, step.arrangement.pair, indication, placement_, false});
    return std::any_of(here.begin(), here.end(), [&](const MeasuredVoltage& m) {
      if (m.placement != placement_ || witness_of(m, here, expected_, parts_.profile) != Witness::missing) return false;
      const auto expected = std::find_if(expected_.begin(), expected_.end(), [&](const VoltageExpectation& e) {
        return e.position == m.position && e.pair == m.pair;
      });
      const auto with = [&](Witness witness) {
        return judge_voltage(*expected, m.indication, parts_.profile, parts_.meter, parts_.settings.judge,
                             {supply_v(), witness})
            .outcome;
      };
      return with(Witness::missing) == Outcome::undecided && with(Witness::stated) == Outcome::pass;
    });
  }

  /// Half a percent is a fraction of what any supply is asked to keep, and the spread is in U.
  SettleRule settle_rule(const Step& step, const SettleRule& usual) const override {
    constexpr double share_of_mains = 0.005;
    return settling_volts(step, usual, std::min(parts_.settings.volts_present_v, parts_.profile.powered->dead_max_v),
                          share_of_mains);
  }

  void look_ahead(const Step& step, Settled& settled) const override {
    if (is_judged(step.kind)) settled.voltage_outlook = judge_now(step, settled.indication, parts_.contact_is_sure);
  }

  std::optional<Note> keep(Kept& kept) override {
    const Step& step = kept.step;
    if (ProvingDead::is_part_of(step.kind)) proving_.keep(step, kept.indication);
    if (step.kind == StepKind::voltage && kept.contact_stated) stated_placements_.insert(placement_);
    if (is_judged(step.kind)) kept.voltage = judge_now(step, kept.indication, kept.contact_stated);
    if (step.kind == StepKind::voltage)
      measured_.push_back(
          {step.arrangement.position, step.arrangement.pair, kept.indication, placement_, kept.contact_stated});
    else if (step.kind == StepKind::supply_at_end)
      supply_.at_end = kept.indication;
    else if (step.kind == StepKind::supply_off || step.kind == StepKind::placed_dead)
      live_ = false;
    else if (step.kind == StepKind::bond || step.kind == StepKind::bond_at_end)
      for (BondReadings& bond : bonds_)
        if (bond.metal == step.arrangement.pair.first())
          (step.kind == StepKind::bond ? bond.before : bond.after) = kept.indication;
    return std::nullopt;
  }

  Verdict verdict() const override {
    Verdict verdict =
        judge_voltages(parts_.profile, expected_, measured(), supply_, parts_.meter, parts_.settings.judge, bonds_);
    if (parts_.settings.cold) {
      verdict.remarks.push_back(parts_.settings.cold->words);
      mind_the_proof_of_absence(verdict);
    }
    if (taken_before_ > 0)
      verdict.remarks.push_back(fmt::format(
          "{} of the voltages {} read in an earlier sitting; its supply {}.", taken_before_,
          taken_before_ == 1 ? "was" : "were",
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
  void mind_the_proof_of_absence(Verdict& verdict) const {
    const ProvingDead::Summary dead = proving_.summary();
    verdict.remarks.insert(verdict.remarks.end(), dead.remarks.begin(), dead.remarks.end());
    if (dead.proven || verdict.scope[ScopePart::voltages].decided != Decided::pass) return;
    verdict.scope.undecided(ScopePart::voltages, "the part was not proven dead before it was wired",
                            dead.remarks.back());
    conclude(verdict);
  }

  static bool is_judged(StepKind kind) {
    return kind == StepKind::voltage || kind == StepKind::supply_on || kind == StepKind::supply_at_end;
  }

  bool is_complete(const Pair& pair, const std::vector<MeasuredVoltage>& readings) const {
    return std::all_of(expected_.begin(), expected_.end(), [&](const VoltageExpectation& e) {
      return !(e.pair == pair) || !can_be_read(e) ||
             std::any_of(readings.begin(), readings.end(),
                         [&](const MeasuredVoltage& m) { return m.position == e.position; });
    });
  }

  std::optional<double> supply_v() const {
    if (!supply_.at_start || supply_.at_start->state != ReadingState::finite) return std::nullopt;
    return std::abs(supply_.at_start->value);
  }

  /// The statement for a placement holds for all that was read there.
  std::vector<MeasuredVoltage> measured() const {
    std::vector<MeasuredVoltage> all = given_up_;
    all.insert(all.end(), measured_.begin(), measured_.end());
    for (MeasuredVoltage& m : all) m.contact_stated = stated_placements_.contains(m.placement);
    return all;
  }

  std::optional<Trouble> wrong_supply(const VoltageFinding& finding) const {
    if (finding.outcome != Outcome::fail) return std::nullopt;
    return Trouble{parts_.unattended ? Then::close : Then::stay, "supply",
                   finding.sentence + " The part is not judged by such a supply: put it right and measure again."};
  }

  std::optional<Trouble> still_on(const Indication& indication) const {
    const bool finite = indication.state == ReadingState::finite;
    if (finite && std::abs(indication.value) <= parts_.profile.powered->dead_max_v) return std::nullopt;
    return Trouble{
        parts_.unattended ? Then::close : Then::stay, "supply-still-on",
        fmt::format("With the supply off the meter still reads {}: switch it off, and touch nothing before it is.",
                    finite ? human_value(indication.value, indication.quantity, indication.resolution) : "over-range")};
  }

  /// As the verdict will see it, with what is known now.
  VoltageFinding judge_now(const Step& step, const Indication& indication, bool stated) const {
    if (step.kind != StepKind::voltage)
      return judge_supply(indication, step.kind == StepKind::supply_on ? "at the start" : "at the end", parts_.profile,
                          parts_.meter, parts_.settings.judge);
    std::vector<MeasuredVoltage> all = measured();
    all.push_back({step.arrangement.position, step.arrangement.pair, indication, placement_,
                   stated || stated_placements_.contains(placement_)});
    std::vector<VoltageFinding> findings;
    for (const MeasuredVoltage& m : all) {
      if (m.position != step.arrangement.position) continue;
      const auto expected = std::find_if(expected_.begin(), expected_.end(), [&](const VoltageExpectation& e) {
        return e.position == m.position && e.pair == m.pair;
      });
      if (expected == expected_.end()) continue;
      // A witness may still come while the probes stay; until then a reading without volts is taken as it is.
      Witness witness = witness_of(m, all, expected_, parts_.profile);
      if (witness == Witness::missing && m.placement == placement_ && !step.last_of_placement)
        witness = Witness::not_needed;
      findings.push_back(judge_voltage(*expected, m.indication, parts_.profile, parts_.meter, parts_.settings.judge,
                                       {supply_v(), witness}));
    }
    if (!step.expected_v->of_the_supply) excuse_missing_volts(findings);
    return findings.back();
  }

  ProcedureParts parts_;
  std::vector<VoltageExpectation> expected_;
  ProvingDead proving_;
  std::vector<MeasuredVoltage> measured_;
  std::vector<MeasuredVoltage> given_up_;  ///< of placements that were begun again, here or in a later sitting
  std::set<int> stated_placements_;
  std::set<Pair> done_before_;  ///< pairs of an earlier sitting that need no more
  std::size_t taken_before_ = 0;
  std::optional<Pair> probes_on_;
  int placement_ = 0;
  SupplyReadings supply_;
  std::vector<BondReadings> bonds_;
  std::optional<Indication> earlier_supply_;  ///< of the sitting that is gone on with
  bool live_ = false;                         ///< the supply was asked to be on and was not yet seen to be off
};

}  // namespace

std::unique_ptr<Procedure> powered_procedure(const ProcedureParts& parts) {
  if (parts.settings.powered == PoweredPart::only && !parts.settings.cold)
    throw Error(ErrorKind::usage, "only a part that has passed without power is energised, and no such record is named",
                "",
                "measure it without power first, in the same sitting (--powered), or name its record (--cold RECORD)");
  if (!parts.profile.powered) voltage_expectations(parts.profile);  // says what is missing
  if (const auto top = parts.meter.top_of_range(Quantity::voltage_ac);
      top && *top < parts.profile.powered->supply_v.max)
    throw Error(ErrorKind::usage,
                fmt::format("the meter's AC volts end at {}, below the supply ({} at most): do not connect it",
                            human_value(*top, Quantity::voltage_ac),
                            human_value(parts.profile.powered->supply_v.max, Quantity::voltage_ac)),
                parts.meter.id, "use a meter that reaches further");
  return std::make_unique<UnderPower>(parts);
}

}  // namespace switchwright
