#include "switchwright/bench/session.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <iterator>

#include "bench/procedure.hpp"
#include "switchwright/analysis/measured.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/judge/judge_voltage.hpp"
#include "switchwright/meter/typed.hpp"

namespace switchwright {

QualifySession::QualifySession(const Profile& profile, const MeterDefinition& meter, SessionSettings settings,
                               RecordHeader header, const Clock& clock, Hands& hands,
                               std::function<void(Quantity)> select, EventStream& events)
    : profile_(profile),
      meter_(meter),
      settings_(std::move(settings)),
      header_(std::move(header)),
      clock_(clock),
      hands_(hands),
      select_(std::move(select)),
      events_(events) {
  const ProcedureParts parts{profile_,   meter_, settings_, hands_.confirms_itself(), hands_.states_contact(),
                             placements_};
  if (settings_.drop)
    add(drop_procedure(parts));
  else if (settings_.powered != PoweredPart::only)
    add(continuity_procedure(parts));
  if (!settings_.drop && settings_.powered != PoweredPart::none) add(powered_procedure(parts));
  steps_at_most_ = static_cast<int>(steps_.size());
  for (const Part& part : parts_) steps_at_most_ += part.procedure->steps_to_come();
}

QualifySession::~QualifySession() = default;

void QualifySession::add(std::unique_ptr<Procedure> procedure) {
  std::vector<Step> steps = procedure->plan(static_cast<int>(steps_.size()) + 1);
  std::move(steps.begin(), steps.end(), std::back_inserter(steps_));
  parts_.push_back({std::move(procedure), steps_.size()});
}

std::size_t QualifySession::part_of(std::size_t index) const {
  std::size_t part = 0;
  while (part + 1 < parts_.size() && index >= parts_[part].end) ++part;
  return part;
}

void QualifySession::resume(const Record& earlier) {
  // Numbers name steps in the record, so those of an earlier sitting are not given again: the plan may be another one.
  for (const StepRow& row : earlier.steps) numbered_before_ = std::max(numbered_before_, row.step);
  for (Step& step : steps_) step.number += numbered_before_;
  stated_before_ = earlier.stated;
  placements_ = last_placement(earlier);
  for (const Part& part : parts_) resumed_ += part.procedure->resume(earlier);
}

void QualifySession::start() {
  std::vector<std::string> warnings;
  for (const Part& part : parts_)
    for (std::string& warning : part.procedure->warnings()) warnings.push_back(std::move(warning));
  emit(SessionOpened{header_, steps_at_most_, std::move(warnings)});
  for (const Part& part : parts_)
    if (const std::string opening = part.procedure->opening(); !opening.empty()) note("plan", opening);
  if (settings_.cold) note("cold-record", settings_.cold->record + ": " + settings_.cold->words);
  for (const std::string& remark : settings_.meter_remarks) note("meter-calibration", remark);
  if (settings_.sitting && settings_.sitting->meter_proven) note("sitting", settings_.sitting->proven_words);
  for (StatedResult& result : settings_.stated) {
    result.at = clock_.now().wall;
    emit(StatedTaken{result});
  }
  if (resumed_ > 0)
    note("resumed",
         fmt::format("{} readings of an earlier session are kept; what is missing is measured now.", resumed_));
  go_to(0);
}

const Step* QualifySession::current() const {
  return state_ == State::not_started || state_ == State::ended ? nullptr : &steps_[index_];
}

void QualifySession::show(std::size_t index) {
  index_ = index;
  const Step& step = steps_[index_];
  pending_.reset();
  settler_.reset();
  last_trouble_.clear();
  last_usable_.reset();
  waiting_since_ = clock_.now().monotonic;
  ++generation_;
  const bool reads = procedure().wants(step) == Procedure::Wants::reading;
  if (reads) procedure().shown(step);
  emit(StepShown{step, std::max(steps_expected() + numbered_before_, step.number), attempts_[step.number] + 1,
                 placement_of(step)});

  if (procedure().wants(step) == Procedure::Wants::acknowledgement) {
    state_ = State::asking;
    if (const auto who = procedure().acknowledged_by(step))
      acknowledge(*who, settings_.acknowledged_how.empty() ? "option --acknowledge " + step.acknowledges
                                                           : settings_.acknowledged_how);
    else if (hands_.confirms_itself() && procedure().acknowledgement_is_optional(step))
      skip("nobody has stated it");
    return;
  }
  if (procedure().wants(step) == Procedure::Wants::answer) {
    state_ = State::asking;
    if (settings_.inspection || hands_.confirms_itself()) answer(settings_.inspection);
    return;
  }

  state_ = State::arranging;
  select_(step.arrangement.dial);
  const int generation = generation_;
  hands_.arrange(
      step.arrangement, [this, index, generation] { arranged(index, generation); },
      [this, generation](const std::string& reason) {
        if (generation != generation_ || ended()) return;
        end("hands", "The hands could not follow: " + reason);
      });
}

void QualifySession::arranged(std::size_t index, int generation) {
  if (generation != generation_ || ended()) return;
  settle_rule_ = procedure().settle_rule(steps_[index], settings_.settle);
  if (readings_are_typed()) settle_rule_.at_least = 1, settle_rule_.for_s = 0.0;  // one look is one reading
  settler_.emplace(settle_rule_, steps_[index].reads());
  watching_since_ = clock_.now();
  waiting_since_ = watching_since_.monotonic;
  state_ = State::watching;
  if (steps_[index].on_another_display && hands_.confirms_itself()) take_from_hands();
}

/// Nobody is there to type: hands that see the other display have said what it shows.
void QualifySession::take_from_hands() {
  const auto shown_a = hands_.supply_shows_a();
  if (!shown_a) return skip("nobody reads what the supply's display shows");
  Reading reading;
  reading.quantity = *steps_[index_].on_another_display;
  reading.value = *shown_a;
  reading.at = clock_.now();
  reading.raw = fmt::format("told by the hands: {:g} A", *shown_a);
  take(reading);
}

void QualifySession::next() { go_to(index_ + 1); }

/// The first step from `index` on that is still to be done. A part begins only when those before it allow, and always
/// with its own acknowledgement, also where an earlier sitting was in the middle of it.
void QualifySession::go_to(std::size_t index) {
  while (index < steps_.size() && parts_[part_of(index)].procedure->done_already(steps_[index])) ++index;
  insert_what_is_wanted(index);
  if (index >= steps_.size() || (part_of(index) != part_of(index_) && !may_begin(part_of(index)))) {
    if (index < steps_.size()) leave_out_from(index);
    state_ = State::ended;
    ++generation_;
    conclude(verdict_so_far());
    return;
  }
  show(index);
}

/// A procedure whose plan is made as the work goes may want a step that was not planned.
void QualifySession::insert_what_is_wanted(std::size_t index) {
  if (index >= steps_.size()) return;
  const std::size_t part = part_of(index);
  auto step = parts_[part].procedure->wanted_before(steps_[index]);
  if (!step) return;
  steps_.insert(steps_.begin() + static_cast<std::ptrdiff_t>(index), *std::move(step));
  for (std::size_t i = part; i < parts_.size(); ++i) ++parts_[i].end;
  int number = std::max(steps_[index - 1].number, numbered_before_);
  for (std::size_t i = index; i < steps_.size(); ++i) steps_[i].number = ++number;
}

void QualifySession::leave_out_from(std::size_t index) {
  steps_.erase(steps_.begin() + static_cast<std::ptrdiff_t>(index), steps_.end());
  steps_at_most_ = static_cast<int>(steps_.size());
}

/// How many steps there will be as things stand: a part that fails without power is not energised.
int QualifySession::steps_expected() const {
  if (failing_.empty() || parts_.size() < 2 || part_of(index_) != 0) return steps_at_most_;
  return static_cast<int>(parts_.front().end) + parts_.front().procedure->steps_to_come();
}

/// A part that has not passed without power is not energised.
bool QualifySession::may_begin(std::size_t part) {
  // Other instruments count too: nobody energises what failed its insulation or has no earth bond.
  const ScopeItem stated = stated_item(stated_findings());
  const bool stated_stands = stated.decided == Decided::pass || stated.decided == Decided::not_asked;
  if (parts_[part - 1].procedure->verdict().outcome == Outcome::pass && stated_stands) return true;
  parts_.resize(part);
  note("not-energised", "The part under power is left out: only a part that has passed without power is energised.");
  return false;
}

void QualifySession::on_reading(const Reading& reading) {
  if (ended() || state_ == State::not_started) return;
  const Step& step = steps_[index_];
  if (!step.on_another_display) return take(reading);
  if (const auto danger = procedure().danger(step, reading))
    end(danger->kind, danger->text, danger->then == Trouble::Then::close);
}

void QualifySession::take(const Reading& reading) {
  const Step& step = steps_[index_];
  const bool wanted = procedure().wants(step) == Procedure::Wants::reading;
  const std::string refused = wanted ? switchwright::refusal(reading, step.reads()) : std::string{};
  emit(ReadingTaken{step.number, reading, refused});
  if (!wanted) return;
  procedure().seen(step, reading);
  if (!refused.empty()) last_trouble_ = refused;
  if (refused.empty()) last_usable_ = reading;

  if (state_ != State::watching) return;
  const double get_ready_s = readings_are_typed()       ? 0.0
                             : hands_.confirms_itself() ? settings_.drain_s
                                                        : settings_.get_ready_s;
  if (seconds_between(watching_since_.monotonic, reading.at.monotonic) < get_ready_s) return;

  if (const auto danger = procedure().danger(step, reading)) {
    end(danger->kind, danger->text, danger->then == Trouble::Then::close);
    return;
  }

  if (pending_) {
    const double digit = std::max(pending_->resolution, reading.resolution);
    const bool same =
        refused.empty() && reading.state == pending_->state &&
        (!reading.finite() || std::abs(reading.value - pending_->value) <=
                                  settle_rule_.tolerance(step.reads(), std::abs(pending_->value), digit) + digit);
    if (!same) {
      pending_.reset();
      settler_->reset();
      emit(Unsettled{step.number});
    }
  }
  if (const auto indication = settler_->feed(reading)) {
    // Go on settling, so that what is confirmed is always the latest stretch of readings.
    const bool news = !pending_;
    pending_ = indication;
    settler_->reset();
    if (news) settled(*indication);
  }
}

bool QualifySession::readings_are_typed() const {
  const Step* step = current();
  return is_typed(meter_.id) || (step != nullptr && step->on_another_display);
}

void QualifySession::type_reading(const std::string& text) {
  const Step* step = current();
  if (step == nullptr || state_ != State::watching) return note("not-now", "No reading is wanted at this step.");
  if (!readings_are_typed()) return note("not-now", "This is read from the meter itself; nothing is typed here.");
  try {
    // What is typed again replaces what was typed before.
    pending_.reset();
    settler_->reset();
    const Reading reading = read_typed(text, step->reads(), clock_.now());
    if (!step->on_another_display) require_step_of(meter_, reading, text);
    take(reading);
  } catch (const Error& error) {
    note("not-a-reading", error.what());
  }
}

void QualifySession::settled(const Indication& indication) {
  const Step& step = steps_[index_];
  Settled event;
  event.step = step.number;
  event.attempt = attempts_[step.number] + 1;
  event.indication = indication;
  event.needs_contact_statement = procedure().needs_contact_statement(step, indication);
  procedure().look_ahead(step, event);
  emit(event);
  if (hands_.confirms_itself()) keep(hands_.states_contact());
}

int QualifySession::placement_of(const Step& step) const {
  return step.arrangement.probes == Probes::on_pair ? procedure().placement() : 0;
}

void QualifySession::keep(bool contact_stated) {
  const Step& step = steps_[index_];
  const Indication indication = *pending_;
  if (const auto trouble = procedure().objection(step, indication)) {
    if (trouble->then == Trouble::Then::stay)
      note(trouble->kind, trouble->text);
    else
      end(trouble->kind, trouble->text, trouble->then == Trouble::Then::close);
    return;
  }
  Kept kept;
  kept.step = step;
  kept.attempt = ++attempts_[step.number];
  kept.indication = indication;
  kept.contact_stated = contact_stated && procedure().contact_can_be_stated(step);
  kept.placement = placement_of(step);
  const auto remark = procedure().keep(kept);
  if (kept.finding) {
    const std::pair place{step.arrangement.position, step.arrangement.pair};
    if (kept.finding->outcome == Outcome::fail)
      failing_.insert(place);
    else
      failing_.erase(place);
  }
  emit(kept);
  if (remark) emit(*remark);
  next();
}

void QualifySession::on_link(const LinkChange& change) {
  if (ended()) return;
  emit(LinkChanged{change});
  if (change.cannot_be_set && current() && procedure().wants(steps_[index_]) == Procedure::Wants::reading &&
      *change.cannot_be_set == steps_[index_].arrangement.dial) {
    end("meter", fmt::format("At step {} ({}): {}.", steps_[index_].number, steps_[index_].instruction, change.detail));
    return;
  }
  if (change.remark) {
    last_trouble_ = change.detail;
    return;
  }
  if (change.state == LinkState::lost || change.state == LinkState::silent) {
    last_trouble_ = change.detail;
    pending_.reset();
    if (settler_) settler_->reset();
    hands_.meter_lost(change.detail);
  }
  if (change.state == LinkState::ended)
    end("meter", "The capture is at its end before the work was done. " + change.detail);
}

void QualifySession::on_tick() {
  if (state_ != State::watching && state_ != State::arranging) return;
  if (!hands_.confirms_itself()) return;
  if (hands_.waits_for_person()) {
    waiting_since_ = clock_.now().monotonic;
    return;
  }
  if (seconds_between(waiting_since_, clock_.now().monotonic) < settings_.patience_s) return;
  const Step& step = steps_[index_];
  end("meter", fmt::format("No settled reading for {} at step {} ({}). {}", human_seconds(settings_.patience_s),
                           step.number, step.instruction, why_nothing_settled()));
}

/// In the meter's or the link's own words where there are any.
std::string QualifySession::why_nothing_settled() const {
  if (!last_trouble_.empty()) return last_trouble_;
  if (!last_usable_) return "No reading came at all: check the meter and its cable.";
  return fmt::format(
      "Readings came, the last one {}, but they did not agree with each other for {}: look for a loose probe.",
      last_usable_->finite() ? human_value(last_usable_->value, last_usable_->quantity, last_usable_->resolution)
                             : std::string{"over-range"},
      human_seconds(settings_.settle.for_s));
}

Verdict QualifySession::verdict_so_far() const {
  Verdict verdict = parts_.front().procedure->verdict();
  for (std::size_t i = 1; i <= part_of(index_); ++i)
    verdict = joined(std::move(verdict), parts_[i].procedure->verdict());
  if (settings_.powered == PoweredPart::after_continuity && parts_.size() == 1)
    verdict.scope.undecided(ScopePart::voltages, "the part was not energised, since it has not passed without power",
                            "Put right what the other parts of the scope say, and measure again.");
  const bool something_stated = !settings_.stated.empty() || !stated_before_.empty();
  if (!settings_.drop && (settings_.powered != PoweredPart::only || something_stated)) {
    verdict.stated = stated_findings();
    verdict.scope[ScopePart::stated] = stated_item(verdict.stated);
  }
  verdict.required = header_.require;
  switchwright::conclude(verdict);
  verdict.remarks.insert(verdict.remarks.end(), settings_.meter_remarks.begin(), settings_.meter_remarks.end());
  return verdict;
}

std::vector<StatedFinding> QualifySession::stated_findings() const {
  std::vector<StatedResult> all = stated_before_;
  all.insert(all.end(), settings_.stated.begin(), settings_.stated.end());
  return judge_stated(profile_, all, header_.started, settings_.judge.rule);
}

Leads QualifySession::leads() const { return parts_.front().procedure->leads(); }

void QualifySession::conclude(Verdict verdict) {
  if (settings_.measure_only) {
    completed_ = true;
    emit(Completed{header_.id, static_cast<int>(verdict.findings.size())});
    return;
  }
  verdict_ = std::move(verdict);
  emit(VerdictReached{header_.id, *verdict_, leads()});
}

void QualifySession::end(const std::string& kind, const std::string& text, bool with_verdict) {
  const auto make_safe = procedure().make_safe();
  state_ = State::ended;
  ++generation_;
  stopped_kind_ = kind;
  stopped_text_ = text;
  if (make_safe) {
    stopped_text_ += " The supply may still be on: switch it off before you touch anything.";
    if (hands_.confirms_itself())
      hands_.arrange(
          *make_safe, [] {}, [](const std::string&) {});
  }
  emit(Stopped{kind, stopped_text_});
  if (!with_verdict || settings_.measure_only) return;
  // What stopped the work (volts on a part that was said to be dead, a supply that is wrong) is a result of its own: the
  // record is closed, undecided.
  Verdict verdict = verdict_so_far();
  verdict.scope.interrupted("the work was stopped before this was decided");  // why, the headline says
  switchwright::conclude(verdict);
  verdict.headline = stopped_text_;
  // The headline says it all; a remark about the supply would tell the same once more.
  if (!verdict.supply.empty())
    std::erase_if(verdict.remarks, [&](const std::string& remark) {
      return remark.starts_with(verdict.supply.front().sentence) || remark.starts_with(verdict.supply.back().sentence);
    });
  conclude(std::move(verdict));
}

}  // namespace switchwright
