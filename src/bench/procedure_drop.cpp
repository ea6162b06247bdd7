// The millivolt drop of closed contacts under a known direct current. A person sets the current on a bench
// supply; the tool switches nothing. No voltage at all is what a perfect contact shows, and what a supply
// shows that is switched off: there somebody must state that the current flows.
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

namespace switchwright {

namespace {

/// The supply gives at most 12 V with the circuit open; more than this is something else.
constexpr double foreign_v = 15.0;

class DropCheck final : public Procedure {
 public:
  explicit DropCheck(const ProcedureParts& parts) : parts_(parts), task_(*parts.settings.drop) {
    for (const Contact* contact : drop_contacts(parts_.profile, task_.position))
      contacts_.push_back({contact, {}, {}, {}});
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
    for (const Own& own : contacts_) {
      const Pair& pair = own.contact->between;
      const Arrangement there{Probes::on_pair, pair, task_.position, Quantity::voltage_dc};
      add(StepKind::drop, there,
          fmt::format("Supply off. Clip it to {} and {}; the probes touch the same tabs inside the clips. {} "
                      "at {}, meter on DC "
                      "millivolts. Supply on: it must show {:g} A.",
                      pair.first(), pair.second(), capitalised(parts_.profile.knob), position_words(),
                      task_.current.amps));
      if (task_.reversed)
        add(StepKind::drop_reversed, there,
            fmt::format("Supply off. Exchange its two clips, leave the probes. Supply on: {:g} A once more.",
                        task_.current.amps));
      steps.back().last_of_placement = true;
    }
    return steps;
  }

  std::vector<std::string> warnings() const override {
    std::vector<std::string> all;
    if (const auto enough = least_current_a(parts_.meter, limit_ohm());
        enough && *enough > task_.current.amps)
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
    for (const IndicationRow& row : earlier.indications) {
      const auto step = std::find_if(earlier.steps.begin(), earlier.steps.end(),
                                     [&](const StepRow& s) { return s.step == row.step; });
      if (step == earlier.steps.end() || step->pair_first.empty()) continue;
      Own* own = own_of({step->pair_first, step->pair_second});
      if (!own || step->position != task_.position) continue;
      const bool back = step->kind == to_string(StepKind::drop_reversed);
      if (!back && step->kind != to_string(StepKind::drop)) continue;
      if (back && !task_.reversed) continue;
      (back ? own->back : own->forth) = row.indication;
      own->stated = own->stated || row.contact_stated;
    }
    for (Own& own : contacts_) {
      if (complete(own)) own.drop = judged(own);
      taken += own.forth.has_value() + own.back.has_value();
    }
    return taken;
  }

  std::optional<std::string> acknowledged_by(const Step&) const override { return parts_.settings.acknowledged_by; }

  std::string contact_words(const Step&) const override {
    return "So little is also what no current at all looks like. Look at the supply: press c if it shows the current, p to "
           "place clips and probes again.";
  }

  bool done_already(const Step& step) const override {
    const Own* own = own_of(step.arrangement.pair);
    return own && (step.kind == StepKind::drop ? own->forth.has_value() : own->back.has_value());
  }

  void forget_placement(const Step& step) override {
    if (Own* own = own_of(step.arrangement.pair)) {
      own->forth.reset();
      own->back.reset();
      own->drop.reset();
      own->stated = false;
    }
  }

  std::optional<Trouble> danger(const Step& step, const Reading& reading) const override {
    if ((step.kind != StepKind::drop && step.kind != StepKind::drop_reversed) ||
        !is_voltage(reading.quantity) || !reading.finite() || std::abs(reading.value) <= foreign_v)
      return std::nullopt;
    return Trouble{
        Trouble::Then::close, "volts-present",
        fmt::format(
            "The meter shows {}: more than a supply of 12 V can give. The work is stopped: touch nothing, "
            "disconnect the part and prove it dead.",
            human_value(reading.value, reading.quantity, reading.resolution))};
  }

  std::optional<Trouble> objection(const Step& step, const Indication& indication) override {
    if (parts_.unattended) return std::nullopt;
    if (indication.state == ReadingState::finite) {
      const Own* own = own_of(step.arrangement.pair);
      if (step.kind == StepKind::drop_reversed && own && own->forth && not_reversed(*own->forth, indication))
        return Trouble{Trouble::Then::stay, "not-reversed",
                       "Both ways read the same: that is no drop. Exchange the clips of the supply, not the "
                       "probes; if they were "
                       "exchanged, look whether the supply gives its current."};
      return std::nullopt;
    }
    return Trouble{Trouble::Then::stay, "over-range",
                   "Beyond the meter's range: set it to DC volts with autorange. If it stays so, the contact "
                   "does not carry the "
                   "current; s leaves it out, and why stands in the report."};
  }

  bool needs_contact_statement(const Step&, const Indication& indication) const override {
    return !parts_.contact_is_sure && indication.state == ReadingState::finite &&
           std::abs(indication.value) <= meter_U(indication);
  }

  void look_ahead(const Step& step, Settled& settled) const override {
    const Own* own = own_of(step.arrangement.pair);
    if (!own) return;
    Own trial = *own;
    (step.kind == StepKind::drop_reversed ? trial.back : trial.forth) = settled.indication;
    trial.stated = trial.stated || parts_.contact_is_sure;
    if (!complete(trial)) return;
    settled.outlook = finding(trial, judged(trial));
  }

  std::optional<Note> keep(Kept& kept) override {
    Own& own = *own_of(kept.step.arrangement.pair);
    (kept.step.kind == StepKind::drop_reversed ? own.back : own.forth) = kept.indication;
    own.stated = own.stated || kept.contact_stated;
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
    int only_stated = 0;
    for (const Own& own : contacts_) {
      if (!complete(own)) {
        Expectation expected = expectation(parts_.profile, task_.position, own.contact->between);
        expected.reason = own.forth ? "the current was not reversed" : "left out";
        verdict.not_measured.push_back(expected);
        continue;
      }
      const Finding& found = verdict.findings.emplace_back(finding(own, own.drop));
      sound += found.outcome == Outcome::pass;
      only_stated += own.drop && !own.drop->drop.above_zero();
    }
    ScopeItem& soundness = verdict.scope[ScopePart::soundness];
    soundness = soundness_item(parts_.profile, verdict.findings, parts_.settings.judge.rule, task_.position);
    soundness.reason = fmt::format("{} of {} contacts sound by their millivolt drop at {:g} A", sound, contacts_.size(),
                                   task_.current.amps);
    if (const std::string unseen = out_of_reach(); !unseen.empty()) soundness.reason += ". " + unseen;
    if (soundness.decided == Decided::undecided) soundness.how = "Measure what is undecided again, with more current.";
    conclude(verdict);
    verdict.remarks = {
        fmt::format(
            "Only the millivolt drop of contacts closed at {} was measured, nothing else of the part.",
            position_words()),
        fmt::format("The current is {:g} A with U = {:.2g} A (k = 2), as the operator states it.",
                    task_.current.amps, task_.current.U_amps),
        task_.reversed ? "The current was reversed: thermal voltages are taken out (ASTM B539)."
                       : "The current was not reversed: a thermal voltage would be in the drop.",
        "A drop holds the tabs, the springs and any film as well as the spot where the contacts touch: the "
        "contact resistance and "
        "the temperature of the spot (R. Holm) are upper bounds."};
    if (only_stated > 0)
      verdict.remarks.push_back(
          fmt::format("{} of the contacts showed no more than the meter's own uncertainty: that the current "
                      "flowed there is stated, not seen.",
                      only_stated));
    if (const std::string left_out = out_of_reach(); !left_out.empty()) verdict.remarks.push_back(left_out);
    return verdict;
  }

 private:
  struct Own {
    const Contact* contact;
    std::optional<Indication> forth;
    std::optional<Indication> back;
    std::optional<ContactDrop> drop;
    bool stated = false;
  };

  double limit_ohm(const Contact& contact) const { return sound_max_ohm(parts_.profile, contact); }
  /// What the meter must resolve to decide about every contact.
  double limit_ohm() const {
    double least = std::numeric_limits<double>::infinity();
    for (const Own& own : contacts_) least = std::min(least, limit_ohm(*own.contact));
    return least;
  }
  std::string position_words() const {
    const Position* position = parts_.profile.position(task_.position);
    return position && !position->label.empty() ? position->label : task_.position;
  }
  static std::string capitalised(std::string text) {
    if (!text.empty()) text[0] = static_cast<char>(std::toupper(static_cast<unsigned char>(text[0])));
    return text;
  }
  double meter_U(const Indication& indication) const {
    return uncertainty_of(parts_.meter, Quantity::voltage_dc, indication.value, indication.resolution).U;
  }

  /// A voltage that stays when the current is turned round is no drop.
  bool not_reversed(const Indication& forth, const Indication& back) const {
    return std::abs(forth.value) > meter_U(forth) && std::abs(forth.value - back.value) <= meter_U(forth);
  }

  Own* own_of(const Pair& pair) {
    const auto found = std::find_if(contacts_.begin(), contacts_.end(),
                                    [&](const Own& o) { return o.contact->between == pair; });
    return found == contacts_.end() ? nullptr : &*found;
  }
  const Own* own_of(const Pair& pair) const { return const_cast<DropCheck*>(this)->own_of(pair); }
  bool complete(const Own& own) const { return own.forth && (own.back || !task_.reversed); }

  /// Nothing when a reading is over-range: then there is no drop to speak of.
  std::optional<ContactDrop> judged(const Own& own) const {
    const auto finite = [](const std::optional<Indication>& i) {
      return !i || i->state == ReadingState::finite;
    };
    if (!finite(own.forth) || !finite(own.back)) return std::nullopt;
    ContactDrop drop{own.contact->id,
                     task_.position,
                     own.contact->between,
                     task_.current,
                     limit_ohm(*own.contact),
                     carried_a(parts_.profile, *own.contact),
                     0.0,
                     {}};
    drop.drop = judge_drop(own.contact->id, *own.forth, own.back, task_.current, drop.limit_ohm, parts_.meter,
                           parts_.settings.judge.rule);
    if (const auto heat = contact_heat(parts_.profile, *own.contact, drop.drop.ohm)) drop.heat_w = heat->heat_w;
    const auto doubt = [&](const char* why) {
      drop.drop.outcome = Outcome::undecided;
      drop.drop.sentence = fmt::format("{}: {}", own.contact->id, why);
    };
    if (own.back && not_reversed(*own.forth, *own.back))
      doubt("both ways read the same; the current was not reversed, or none flowed.");
    else if (!drop.drop.above_zero() && !own.stated && drop.drop.outcome == Outcome::pass)
      doubt("no voltage, and nothing shows that a current flowed.");
    return drop;
  }

  Finding finding(const Own& own, const std::optional<ContactDrop>& drop) const {
    if (drop) return finding_of(parts_.profile, *drop, *own.forth);
    Finding none;
    none.expected = expectation(parts_.profile, task_.position, own.contact->between);
    none.indication = *own.forth;
    none.sentence = own.contact->id +
                    ": the drop is beyond the meter's range; either no current flows or the contact is open.";
    return none;
  }

  /// A meter whose uncertainty alone is more than the limit can find nothing sound.
  void require_resolution() const {
    const double U_ohm = uncertainty_of(parts_.meter, Quantity::voltage_dc, 0.0, 0.0).U / task_.current.amps;
    if (U_ohm < limit_ohm()) return;
    const auto enough = least_current_a(parts_.meter, limit_ohm());
    throw Error(
        ErrorKind::usage,
        fmt::format("this meter cannot decide with {:g} A: its uncertainty near 0 V alone is {} there, and a "
                    "sound contact "
                    "has at most {}",
                    task_.current.amps, human_ohm(U_ohm), human_ohm(limit_ohm())),
        "--current",
        enough ? fmt::format("use {:g} A or more, up to the part's rating, or a meter with finer millivolts",
                             *enough)
               : "use a meter with finer millivolts");
  }

  std::string out_of_reach() const {
    std::vector<std::string> names;
    for (const Contact& contact : parts_.profile.contacts)
      if (contact.conducts_at(task_.position) &&
          std::none_of(contacts_.begin(), contacts_.end(),
                       [&](const Own& own) { return own.contact->between == contact.between; }))
        names.push_back(contact.id);
    return names.empty() ? std::string{}
                         : "No probe reaches both ends of " + joined_with_and(names) + ": not measured.";
  }

  ProcedureParts parts_;
  DropTask task_;
  std::vector<Own> contacts_;
};

}  // namespace

std::string drop_words() {
  return "The part is disconnected from the mains and from every appliance. The current comes from an "
         "isolated bench supply of at "
         "most 12 V with its current limit set, switched off while clips are moved; I am trained for this "
         "work. Local codes and "
         "licensed practice come first.";
}

std::vector<const Contact*> drop_contacts(const Profile& profile, const std::string& position) {
  const auto nodes = profile.nodes();
  const auto reached = [&](const std::string& node) {
    return std::find(nodes.begin(), nodes.end(), node) != nodes.end();
  };
  std::vector<const Contact*> contacts;
  for (const Contact& contact : profile.contacts)
    if (contact.conducts_at(position) && reached(contact.between.first()) &&
        reached(contact.between.second()) &&
        std::none_of(contacts.begin(), contacts.end(),
                     [&](const Contact* c) { return c->between == contact.between; }))
      contacts.push_back(&contact);
  return contacts;
}

std::string drop_position(const Profile& profile, const std::string& wanted) {
  std::vector<std::string> known;
  for (const Position& position : profile.positions) known.push_back(position.id);
  if (!wanted.empty() && !profile.position(wanted))
    throw Error(ErrorKind::usage, "no position is called \"" + terminal_safe(wanted) + "\"", "--position",
                suggestion(wanted, known).empty() ? "positions: " + joined_with_and(known)
                                                  : suggestion(wanted, known));
  std::string best = wanted.empty() ? known.front() : wanted;
  if (wanted.empty())
    for (const std::string& position : known)
      if (drop_contacts(profile, position).size() > drop_contacts(profile, best).size()) best = position;
  if (drop_contacts(profile, best).empty())
    throw Error(ErrorKind::usage,
                "no contact of " + profile.id + " is closed at " + best + " between two terminals",
                "--position", "choose another position");
  return best;
}

Finding finding_of(const Profile& profile, const ContactDrop& drop, const Indication& indication) {
  Finding finding;
  finding.expected = expectation(profile, drop.position, drop.pair);
  finding.expected.ohm.max = drop.limit_ohm;  // it is the sound limit that decides here
  finding.indication = indication;
  finding.indication.quantity = Quantity::resistance_4_wire;
  finding.indication.value = drop.drop.ohm;
  finding.indication.resolution = indication.resolution / drop.current.amps;
  finding.indication.beyond.reset();
  finding.corrected = drop.drop.ohm;
  finding.U = drop.drop.U_ohm;
  finding.outcome = finding.continuity = drop.drop.outcome;
  finding.sound = drop.drop.outcome;
  finding.sentence = drop.drop.sentence;
  if (drop.drop.outcome != Outcome::fail) return finding;
  finding.kind = DeviationKind::high_resistance;
  finding.severity = Severity::major;
  const Contact* contact = contact_between(profile, drop.pair);
  if (const auto heat = contact ? contact_heat(profile, *contact, drop.drop.ohm) : std::nullopt)
    finding.sentence += fmt::format(" {} that is {:.3g} W in the contact: do not refit.", current_words(*heat), heat->heat_w);
  return finding;
}

std::unique_ptr<Procedure> drop_procedure(const ProcedureParts& parts) {
  return std::make_unique<DropCheck>(parts);
}

}  // namespace switchwright
