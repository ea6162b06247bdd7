// The millivolt drop of closed contacts under a known direct current. A person sets the current on a bench supply and
// switches it; the tool switches nothing. At each contact the zero is read first, with the current off, and once more at
// the end, before the clips move: only what changes with the current is a drop (judge/drop.hpp).
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <map>

#include "bench/procedure.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/judge/contact_heat.hpp"
#include "switchwright/judge/soundness.hpp"
#include "switchwright/judge/uncertainty.hpp"
#include "switchwright/profile/contact_limits.hpp"
#include "switchwright/profile/network.hpp"
#include "switchwright/profile/position_words.hpp"

namespace switchwright {

namespace {

/// The supply gives at most 12 V with the circuit open; more than this is something else.
constexpr double foreign_v = 15.0;

class DropCheck final : public Procedure {
 public:
  explicit DropCheck(const ProcedureParts& parts) : parts_(parts), task_(*parts.settings.drop) {
    for (const Contact* contact : drop_contacts(parts_.profile, task_.position)) contacts_.push_back(Own{contact});
    require_resolution();
  }

  std::vector<Step> plan(int first_number) const override {
    std::vector<Step> steps;
    const auto add = [&](StepKind kind, const Arrangement& arrangement, std::string instruction) -> Step& {
      Step& step = steps.emplace_back();
      step.number = first_number + static_cast<int>(steps.size()) - 1;
      step.kind = kind;
      step.arrangement = arrangement;
      step.instruction = std::move(instruction);
      return step;
    };
    add(StepKind::acknowledge, {}, drop_words()).acknowledges = "de-energised";
    if (!contacts_.empty()) {
      const Pair& pair = contacts_.front().contact->between;
      Arrangement free{Probes::on_pair, pair, task_.position, Quantity::voltage_dc};
      free.current = CurrentSwitch::one_clip;
      free.current_a = task_.current.amps;
      add(StepKind::drop_no_current, free,
          fmt::format(
              "Set the supply to {:g} A and at most 12 V. Clip one of its clips to {}, let the other hang free, switch it "
              "on. Type what its display shows, or the ammeter in series: nothing can flow.",
              task_.current.amps, pair.first()))
          .on_another_display = Quantity::current_dc;
    }
    for (const Own& own : contacts_) {
      const Pair& pair = own.contact->between;
      const auto there = [&](CurrentSwitch current) {
        Arrangement arrangement{Probes::on_pair, pair, task_.position, Quantity::voltage_dc};
        arrangement.current = current;
        arrangement.current_a = task_.current.amps;
        return arrangement;
      };
      add(StepKind::drop_zero, there(CurrentSwitch::off),
          fmt::format(
              "Supply off. Clip it to {} and {}; the probes touch the same tabs inside the clips. {}, meter on DC "
              "millivolts. Leave the supply off: this is the zero.",
              pair.first(), pair.second(), stands_at(parts_.profile, task_.position)));
      add(StepKind::drop, there(CurrentSwitch::on),
          fmt::format("Clips and probes stay. Supply on: it must show {:g} A.", task_.current.amps));
      add(StepKind::drop_current, there(CurrentSwitch::on),
          "The current stays on. Type what flows, as the same display shows it.")
          .on_another_display = Quantity::current_dc;
      if (task_.reversed)
        add(StepKind::drop_reversed, there(CurrentSwitch::reversed),
            fmt::format("Supply off. Exchange its two clips, leave the probes. Supply on: {:g} A once more.",
                        task_.current.amps));
      add(StepKind::drop_zero_after, there(CurrentSwitch::off),
          "Supply off, clips and probes stay: the zero once more.");
      steps.back().last_of_placement = true;
    }
    return steps;
  }

  std::vector<std::string> warnings() const override {
    std::vector<std::string> all;
    if (const auto enough = least_current_a(parts_.meter, limit_ohm()); enough && *enough > task_.current.amps)
      all.push_back(
          fmt::format("At {:g} A this meter finds only contacts far below {} sound. {:g} A or more would do "
                      "better, up to "
                      "the part's rating.",
                      task_.current.amps, human_ohm(limit_ohm()), *enough));
    if (const std::string left_out = out_of_reach(); !left_out.empty()) all.push_back(left_out);
    return all;
  }

  std::size_t resume(const Record& earlier) override {
    std::size_t taken = 0;
    for (const IndicationRow& row : earlier.indications) {  // in the order in which they were kept
      const auto step = std::find_if(earlier.steps.begin(), earlier.steps.end(),
                                     [&](const StepRow& s) { return s.step == row.step; });
      if (step == earlier.steps.end() || step->pair_first.empty()) continue;
      if (step->kind == to_string(StepKind::drop_no_current)) shown_free_ = row.indication;
      Own* own = own_of({step->pair_first, step->pair_second});
      if (!own || step->position != task_.position) continue;
      if (step->kind == to_string(StepKind::drop_zero)) own->begin_anew();
      for (const StepKind kind : contact_steps)
        if (step->kind == to_string(kind) && (task_.reversed || kind != StepKind::drop_reversed))
          reading_of(*own, kind) = row.indication;
      if (complete(*own)) own->drop = judged(*own);
    }
    for (Own& own : contacts_) {
      if (!complete(own)) {
        own.begin_anew();  // the zero belongs to the drop
        continue;
      }
      own.drop = judged(own);
      for (const StepKind kind : contact_steps) taken += reading_of(own, kind).has_value();
    }
    return taken;
  }

  std::optional<std::string> acknowledged_by(const Step&) const override { return parts_.settings.acknowledged_by; }

  /// That a current flows is seen and not stated.
  bool contact_can_be_stated(const Step&) const override { return false; }

  std::string cannot_skip(const Step& step) const override {
    return is_of_contact(step.kind) || step.kind == StepKind::drop_no_current ? std::string{}
                                                                              : Procedure::cannot_skip(step);
  }

  /// Clips and probes stay through all readings of a contact.
  bool same_placement(const Step& a, const Step& b) const override {
    return is_of_contact(a.kind) && is_of_contact(b.kind) && a.arrangement.pair == b.arrangement.pair;
  }

  bool done_already(const Step& step) const override {
    if (step.kind == StepKind::drop_no_current)
      return std::all_of(contacts_.begin(), contacts_.end(), [&](const Own& o) { return complete(o) || o.left_out; });
    const Own* own = is_of_contact(step.kind) ? own_of(step.arrangement.pair) : nullptr;
    return own && (complete(*own) || own->left_out);
  }

  /// Without what flows the rest of a contact is still worth reading: an open one shows all the same.
  void skipped(const Step& step) override {
    if (step.kind == StepKind::drop_no_current || step.kind == StepKind::drop_current) return;
    if (Own* own = is_of_contact(step.kind) ? own_of(step.arrangement.pair) : nullptr) own->left_out = true;
  }

  void forget_placement(const Step& step) override {
    if (Own* own = own_of(step.arrangement.pair)) own->begin_anew();
  }

  void shown(const Step& step) override { current_may_be_on_ = step.arrangement.current != CurrentSwitch::off; }

  std::optional<Arrangement> make_safe() const override {
    if (!current_may_be_on_) return std::nullopt;
    Arrangement off;
    off.probes = Probes::off;
    off.dial = Quantity::voltage_dc;
    off.current = CurrentSwitch::off;
    return off;
  }

  /// A twentieth of what a sound contact may have is close enough; a fine display never stands still.
  SettleRule settle_rule(const Step& step, const SettleRule& usual) const override {
    SettleRule rule = usual;
    if (is_of_contact(step.kind)) rule.floor_v = std::max(rule.floor_v, 0.01 * limit_ohm() * task_.current.amps);
    return rule;
  }

  std::optional<Trouble> danger(const Step& step, const Reading& reading) const override {
    if (step.kind == StepKind::acknowledge || !is_voltage(reading.quantity) || !reading.finite() ||
        std::abs(reading.value) <= foreign_v)
      return std::nullopt;
    return Trouble{
        Trouble::Then::close, "volts-present",
        fmt::format("The meter shows {}: more than a supply of 12 V can give. The work is stopped: touch nothing, "
                    "disconnect the part and prove it dead.",
                    human_value(reading.value, reading.quantity, reading.resolution))};
  }

  std::optional<Trouble> objection(const Step& step, const Indication& indication) override {
    if (parts_.unattended) return std::nullopt;
    const auto stay = [](const char* kind, std::string text) {
      return Trouble{Trouble::Then::stay, kind, std::move(text)};
    };
    if (step.on_another_display) {
      const std::string wrong = wrong_on_display(step, indication);
      return wrong.empty() ? std::nullopt
                           : std::optional{stay("current", wrong + " s leaves this out; then nothing is found sound.")};
    }
    if (!is_of_contact(step.kind)) return std::nullopt;
    if (step.kind == StepKind::drop_zero || step.kind == StepKind::drop_zero_after) {
      if (is_zero(indication, parts_.meter)) return std::nullopt;
      return stay("not-zero",
                  "With the supply off there must be next to nothing. Switch the supply off and look whether the "
                  "clips are on the tabs of this contact.");
    }
    if (indication.state != ReadingState::finite)
      return stay(
          "over-range",
          "Beyond the meter's range: set it to DC volts with autorange. If it stays so, the contact does not carry "
          "the current; s leaves it out, and why stands in the report.");
    const Own* own = own_of(step.arrangement.pair);
    if (!own || !own->zero) return std::nullopt;
    Own trial = *own;
    reading_of(trial, step.kind) = indication;
    const Drop drop = judged_now(trial);
    if (drop.state != DropState::no_current && drop.state != DropState::one_way) return std::nullopt;
    return stay(step.kind == StepKind::drop ? "no-current" : "not-reversed", drop.sentence);
  }

  void look_ahead(const Step& step, Settled& settled) const override {
    const Own* own = is_of_contact(step.kind) ? own_of(step.arrangement.pair) : nullptr;
    if (!own) return;
    Own trial = *own;
    reading_of(trial, step.kind) = settled.indication;
    if (!trial.shown && step.kind != StepKind::drop_zero_after) return;  // what flows is still to be read
    if (!trial.zero || !trial.on || (task_.reversed && !trial.reversed)) return;
    settled.outlook = finding(trial, judged(trial));
  }

  std::optional<Note> keep(Kept& kept) override {
    if (kept.step.kind == StepKind::drop_no_current) {
      shown_free_ = kept.indication;
      return std::nullopt;
    }
    Own& own = *own_of(kept.step.arrangement.pair);
    // A new zero begins the contact anew: what was read before does not belong to it.
    if (kept.step.kind == StepKind::drop_zero) own.begin_anew();
    reading_of(own, kept.step.kind) = kept.indication;
    if (kept.step.kind == StepKind::drop) own.shown.reset();  // it belongs to the current as it flowed then
    if (kept.step.kind == StepKind::drop_zero_after) current_may_be_on_ = false;
    own.failed_before = own.failed_before || (own.drop && own.drop->drop.outcome == Outcome::fail);
    own.drop.reset();
    if (!complete(own)) return std::nullopt;
    own.drop = judged(own);
    kept.finding = finding(own, own.drop);
    kept.drop = own.drop;
    return std::nullopt;
  }

  Verdict verdict() const override {
    Verdict verdict;
    int sound = 0;
    int unseen = 0;
    for (const Own& own : contacts_) {
      if (!complete(own)) {
        Expectation expected = expectation(parts_.profile, task_.position, own.contact->between);
        expected.reason = own.on ? "zero and drop belong together, and one of them is missing" : "left out";
        verdict.not_measured.push_back(expected);
        continue;
      }
      const Finding& found = verdict.findings.emplace_back(finding(own, own.drop));
      sound += found.outcome == Outcome::pass;
      unseen += own.drop->drop.state == DropState::no_current;
    }
    ScopeItem& soundness = verdict.scope[ScopePart::soundness];
    soundness = soundness_item(parts_.profile, verdict.findings, parts_.settings.judge.rule, task_.position);
    soundness.reason = fmt::format("{} of {} contacts sound by their millivolt drop at {:g} A", sound, contacts_.size(),
                                   task_.current.amps);
    if (const std::string not_reached = out_of_reach(); !not_reached.empty()) soundness.reason += ". " + not_reached;
    const std::string elsewhere = closed_elsewhere();
    if (!elsewhere.empty()) soundness.reason += ". " + elsewhere;
    // A contact that no probe reaches, or that shares its current, may be anything.
    const bool all_sound = sound == static_cast<int>(contacts_.size()) && out_of_reach().empty() && elsewhere.empty();
    if (soundness.decided == Decided::pass && !all_sound) soundness.decided = Decided::undecided;
    if (soundness.decided == Decided::undecided)
      soundness.how = sound == static_cast<int>(contacts_.size()) && !elsewhere.empty()
                          ? "Measure the others where they are closed, with --position, in a record of its own."
                          : "Measure what is undecided again, with more current.";
    conclude(verdict);
    verdict.remarks = {
        fmt::format("Only the millivolt drop of contacts closed at {} was measured, nothing else of the part.",
                    position_words()),
        fmt::format("The current is {:g} A with U = {:.2g} A (k = 2), as the operator states it{}.", task_.current.amps,
                    task_.current.U_amps, current_words()),
        "Read with the current off before and after, and only the change counts: thermal voltages are taken out.",
        "A drop holds the tabs, the springs and any film as well as the spot where the contacts touch: the "
        "contact resistance and "
        "the temperature of the spot (R. Holm) are upper bounds."};
    if (task_.reversed) verdict.remarks.push_back("The current was reversed as well (ASTM B539).");
    if (unseen > 0)
      verdict.remarks.push_back(fmt::format(
          "At {} of the contacts nothing changed with the current: no contact is called sound without a drop "
          "that the meter sees.",
          unseen));
    if (const std::string left_out = out_of_reach(); !left_out.empty()) verdict.remarks.push_back(left_out);
    return verdict;
  }

 private:
  struct Own {
    const Contact* contact;
    std::optional<Indication> zero;
    std::optional<Indication> on;
    std::optional<Indication> reversed;
    std::optional<Indication> zero_after;
    std::optional<Indication> shown;  ///< what flows, on the display of the supply
    std::optional<ContactDrop> drop;
    bool left_out = false;       ///< by the operator
    bool failed_before = false;  ///< and was measured anew

    explicit Own(const Contact* c) : contact(c) {}
    void begin_anew() {
      const bool failed = failed_before || (drop && drop->drop.outcome == Outcome::fail);
      *this = Own{contact};
      failed_before = failed;
    }
  };

  static constexpr StepKind contact_steps[] = {StepKind::drop_zero, StepKind::drop, StepKind::drop_current,
                                               StepKind::drop_reversed, StepKind::drop_zero_after};
  static bool is_of_contact(StepKind kind) {
    return std::find(std::begin(contact_steps), std::end(contact_steps), kind) != std::end(contact_steps);
  }
  static std::optional<Indication>& reading_of(Own& own, StepKind kind) {
    return kind == StepKind::drop_zero       ? own.zero
           : kind == StepKind::drop          ? own.on
           : kind == StepKind::drop_current  ? own.shown
           : kind == StepKind::drop_reversed ? own.reversed
                                             : own.zero_after;
  }
  static std::optional<double> amps_of(const std::optional<Indication>& shown) {
    return shown && shown->state == ReadingState::finite ? std::optional{std::abs(shown->value)} : std::nullopt;
  }

  /// What a person should put right before it is kept; empty: nothing.
  std::string wrong_on_display(const Step& step, const Indication& shown) const {
    const auto amps = amps_of(shown);
    if (!amps) return "Over-range is no current.";
    if (step.kind == StepKind::drop_no_current)
      return follows_current(*amps, task_.current)
                 ? std::string{}
                 : fmt::format(
                       "With one clip free nothing can flow, yet the display shows {:.3g} A: it shows what is set, or is off "
                       "by that. Put an ammeter in series and read that.",
                       *amps);
    return std::abs(*amps - task_.current.amps) <= task_.current.U_amps * (1.0 + 1e-6)
               ? std::string{}
               : fmt::format("{:.3g} A is not {:g} A +/- {:.2g} A: set the supply right and read again, r.", *amps,
                             task_.current.amps, task_.current.U_amps);
  }

  std::string current_words() const {
    const auto read =
        std::count_if(contacts_.begin(), contacts_.end(), [](const Own& own) { return own.shown.has_value(); });
    if (read == 0 || !shown_free_) return "; nobody has read what flowed, so no contact is called sound";
    return fmt::format(
        " and as the supply's display or an ammeter in series, seen to show {:.2g} A where none can flow, was read at {} "
        "of {} contacts",
        amps_of(shown_free_).value_or(0.0), read, contacts_.size());
  }
  double limit_ohm(const Contact& contact) const { return sound_max_ohm(parts_.profile, contact); }
  /// What the meter must resolve to decide about every contact.
  double limit_ohm() const {
    double least = std::numeric_limits<double>::infinity();
    for (const Own& own : contacts_) least = std::min(least, limit_ohm(*own.contact));
    return least;
  }
  std::string position_words() const { return position_label(parts_.profile, task_.position); }
  static std::string capitalised(std::string text) {
    if (!text.empty()) text[0] = static_cast<char>(std::toupper(static_cast<unsigned char>(text[0])));
    return text;
  }
  Own* own_of(const Pair& pair) {
    const auto found =
        std::find_if(contacts_.begin(), contacts_.end(), [&](const Own& o) { return o.contact->between == pair; });
    return found == contacts_.end() ? nullptr : &*found;
  }
  const Own* own_of(const Pair& pair) const { return const_cast<DropCheck*>(this)->own_of(pair); }
  bool complete(const Own& own) const {
    return own.zero && own.on && own.zero_after && (own.reversed || !task_.reversed);
  }

  Drop judged_now(const Own& own) const {
    const DropReadings readings{*own.zero,    own.on ? *own.on : *own.zero, own.zero_after,
                                own.reversed, amps_of(own.shown),           amps_of(shown_free_)};
    return judge_drop(own.contact->id, readings, task_.current,
                      {limit_ohm(*own.contact), parts_.profile.limits.closed_max_ohm}, parts_.meter,
                      parts_.settings.judge.rule);
  }

  ContactDrop judged(const Own& own) const {
    ContactDrop drop{own.contact->id,
                     task_.position,
                     own.contact->between,
                     task_.current,
                     limit_ohm(*own.contact),
                     amps_of(own.shown),
                     amps_of(shown_free_),
                     carried_a(parts_.profile, *own.contact),
                     0.0,
                     {}};
    drop.drop = judged_now(own);
    if (const auto heat = contact_heat(parts_.profile, *own.contact, drop.drop.ohm);
        heat && drop.drop.state == DropState::seen)
      drop.heat_w = heat->heat_w;
    if (own.failed_before && drop.drop.outcome == Outcome::pass) {
      drop.drop.outcome = Outcome::undecided;
      drop.drop.sentence +=
          " But it had failed before it was measured again: a contact that does not close alike each time fails once and passes "
          "once. Measure all contacts anew, in a record of its own.";
    }
    if (const std::string other = shares_with(*own.contact); !other.empty() && drop.drop.outcome == Outcome::pass) {
      drop.drop.outcome = Outcome::undecided;
      drop.drop.sentence += other;
    }
    return drop;
  }

  Finding finding(const Own& own, const std::optional<ContactDrop>& drop) const {
    return finding_of(parts_.profile, *drop, *own.on);
  }

  /// What else lies between the two tabs takes its share of the current, and the drop says nothing of the contact alone.
  std::string shares_with(const Contact& contact) const {
    constexpr double harmless = 1000.0;  // a thousandth of the current at most
    const auto between_the_same =
        std::count_if(parts_.profile.contacts.begin(), parts_.profile.contacts.end(),
                      [&](const Contact& c) { return c.between == contact.between && c.conducts_at(task_.position); });
    std::vector<Fault> opened;
    for (const Contact& c : parts_.profile.contacts)
      if (c.between == contact.between) opened.push_back({FaultKind::stuck_open, c.id, {}, {}});
    const PartValues sound{0.01, std::numeric_limits<double>::infinity()};
    const double beside = network_of(parts_.profile, task_.position, sound, opened)
                              .resistance_ohm(contact.between.first(), contact.between.second());
    if (between_the_same < 2 && !(beside < harmless * limit_ohm(contact))) return {};
    return " But more than this contact lies between the two tabs, so the current is not its alone: not decided.";
  }

  /// A meter whose uncertainty alone is more than the limit can find nothing sound.
  void require_resolution() const {
    const double U_ohm = least_change_v(parts_.meter) / task_.current.amps;
    if (U_ohm < limit_ohm()) return;
    const auto enough = least_current_a(parts_.meter, limit_ohm());
    throw Error(
        ErrorKind::usage,
        fmt::format("this meter cannot decide with {:g} A: its uncertainty near 0 V alone is {} there, and a "
                    "sound contact "
                    "has at most {}",
                    task_.current.amps, human_ohm(U_ohm), human_ohm(limit_ohm())),
        "--current",
        enough ? fmt::format("use {:g} A or more, up to the part's rating, or a meter with finer millivolts", *enough)
               : "use a meter with finer millivolts");
  }

  /// What is closed at other positions alone was not looked at, and a pass would speak for it.
  std::string closed_elsewhere() const {
    std::vector<std::string> names;
    for (const Contact& contact : parts_.profile.contacts)
      if (!contact.conducts_at(task_.position)) names.push_back(contact.id);
    return names.empty()
               ? std::string{}
               : fmt::format("Not closed at {}, so not measured: {}", position_words(), joined_with_and(names));
  }

  std::string out_of_reach() const {
    std::vector<std::string> names;
    for (const Contact& contact : parts_.profile.contacts)
      if (contact.conducts_at(task_.position) && std::none_of(contacts_.begin(), contacts_.end(), [&](const Own& own) {
            return own.contact->between == contact.between;
          }))
        names.push_back(contact.id);
    return names.empty() ? std::string{}
                         : "No probe reaches both ends of " + joined_with_and(names) + ": not measured.";
  }

  ProcedureParts parts_;
  DropTask task_;
  std::vector<Own> contacts_;
  std::optional<Indication> shown_free_;  ///< on the supply's display with one clip hanging free
  bool current_may_be_on_ = false;
};

}  // namespace

std::unique_ptr<Procedure> drop_procedure(const ProcedureParts& parts) { return std::make_unique<DropCheck>(parts); }

}  // namespace switchwright
