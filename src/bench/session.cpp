#include "switchwright/bench/session.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "switchwright/core/text.hpp"

namespace switchwright {

namespace {

bool needs_meter(StepKind kind) { return kind != StepKind::acknowledge && kind != StepKind::inspect; }
bool on_voltage(StepKind kind) {
  return kind == StepKind::prove_meter || kind == StepKind::absence || kind == StepKind::prove_meter_again;
}

Quantity voltage_dial(const MeterDefinition& meter) {
  return meter.finest(Quantity::voltage_ac) || !meter.finest(Quantity::voltage_dc) ? Quantity::voltage_ac
                                                                                    : Quantity::voltage_dc;
}

}  // namespace

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
      events_(events),
      expected_(expectations(profile)),
      plan_(make_measure_plan(settings_.plan, profile, expected_, meter, settings_.judge, settings_.knowledge.get(),
                              settings_.cost)),
      steps_(plan_qualification(profile, expected_, plan_->route(), voltage_dial(meter))),
      steps_at_most_(static_cast<int>(steps_.size())) {
  if (plan_->route().empty())
    steps_at_most_ += static_cast<int>(std::count_if(expected_.begin(), expected_.end(), [](const Expectation& e) {
      return e.state != PairState::not_checked;
    }));
}

void QualifySession::resume(const Record& earlier) {
  leads_.before = earlier.leads_before;
  std::map<int, const StepRow*> step_rows;
  for (const StepRow& row : earlier.steps) {
    step_rows[row.step] = &row;
    numbered_before_ = std::max(numbered_before_, row.step);
  }
  std::optional<Pair> previous;
  for (const IndicationRow& row : earlier.indications) {
    const auto found = step_rows.find(row.step);
    if (found == step_rows.end() || found->second->kind != to_string(StepKind::measure)) continue;
    const Pair pair{found->second->pair_first, found->second->pair_second};
    if (!previous || !(*previous == pair) || row.attempt > 1) ++placement_;
    previous = pair;
    if (row.contact_stated) stated_placements_.insert(placement_);
    measured_.push_back({found->second->position, pair, row.indication, placement_, row.contact_stated});
    measured_before_.insert({found->second->position, pair});
  }
}

void QualifySession::start() {
  for (const auto& question : profile_.inspect) inspection_.push_back({question, settings_.inspection, ""});
  emit(SessionOpened{header_, steps_at_most_, undecidable(profile_, meter_, settings_.judge.k)});
  if (const std::string opening = plan_->opening(); !opening.empty()) note("plan", opening);
  for (const std::string& remark : settings_.meter_remarks) note("meter-calibration", remark);
  if (!measured_before_.empty())
    note("resumed", fmt::format("{} readings of an earlier session are kept; what is missing is measured now.",
                                measured_before_.size()));
  show(0);
}

const Step* QualifySession::current() const {
  return state_ == State::not_started || state_ == State::ended ? nullptr : &steps_[index_];
}

bool QualifySession::done_already(const Step& step) const {
  return step.kind == StepKind::measure &&
         measured_before_.contains({step.arrangement.position, step.arrangement.pair});
}

void QualifySession::show(std::size_t index) {
  index_ = index;
  const Step& step = steps_[index_];
  pending_.reset();
  settler_.reset();
  last_trouble_.clear();
  waiting_since_ = clock_.now().monotonic;
  ++generation_;
  emit(StepShown{step, std::max(steps_at_most_, step.number), attempts_[step.number] + 1});

  if (step.kind == StepKind::acknowledge) {
    state_ = State::asking;
    if (settings_.acknowledged_by) acknowledge(*settings_.acknowledged_by, "option --acknowledge de-energised");
    return;
  }
  if (step.kind == StepKind::inspect) {
    state_ = State::asking;
    if (settings_.inspection || hands_.confirms_itself()) answer(settings_.inspection);
    return;
  }

  state_ = State::arranging;
  if (step.arrangement.probes == Probes::on_pair) {
    if (!probes_on_ || !(*probes_on_ == step.arrangement.pair)) ++placement_;
    probes_on_ = step.arrangement.pair;
  } else {
    probes_on_.reset();
  }
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
  settler_.emplace(settings_.settle, steps_[index].arrangement.dial);
  watching_since_ = clock_.now();
  waiting_since_ = watching_since_.monotonic;
  state_ = State::watching;
}

void QualifySession::next() {
  std::size_t index = index_ + 1;
  while (index < steps_.size() && done_already(steps_[index])) ++index;
  if (insert_what_the_plan_asks_for(index)) return show(index);
  if (index < steps_.size())
    show(index);
  else
    finish();
}

/// Between the last reading and the leads, a plan that is made as the work goes says what it still wants.
bool QualifySession::insert_what_the_plan_asks_for(std::size_t index) {
  if (index >= steps_.size() || steps_[index].kind != StepKind::leads_after) return false;
  const Verdict so_far = judge_all(profile_, expected_, measured(), inspection_, meter_, leads_, settings_.judge);
  const auto place = plan_->next(so_far.findings, skipped_, leads_);
  if (!place) return false;
  const auto expected = std::find_if(expected_.begin(), expected_.end(), [&](const Expectation& e) {
    return e.position == place->position && e.pair == place->pair;
  });
  steps_.insert(steps_.begin() + static_cast<std::ptrdiff_t>(index), measure_step(profile_, *expected, probes_on_));
  // Numbers name steps in the record, so those of an earlier sitting are not given again.
  int number = std::max(steps_[index - 1].number, numbered_before_);
  for (std::size_t i = index; i < steps_.size(); ++i) steps_[i].number = ++number;
  return true;
}

void QualifySession::on_reading(const Reading& reading) {
  if (ended() || state_ == State::not_started) return;
  const Step& step = steps_[index_];
  const std::string refused =
      needs_meter(step.kind) ? switchwright::refusal(reading, step.arrangement.dial) : std::string{};
  emit(ReadingTaken{step.number, reading, refused});
  if (!needs_meter(step.kind)) return;
  if (!refused.empty()) last_trouble_ = refused;

  if (state_ != State::watching) return;
  const double get_ready_s = hands_.confirms_itself() ? settings_.drain_s : settings_.get_ready_s;
  if (seconds_between(watching_since_.monotonic, reading.at.monotonic) < get_ready_s) return;

  // Volts where there must be none stop resistance work at once. A person may still hold the probes on the known source
  // when the leads step is shown; there the reading is refused and that is all.
  const bool probes_are_there = step.kind == StepKind::measure || hands_.confirms_itself();
  if (!on_voltage(step.kind) && probes_are_there && is_voltage(reading.quantity) && reading.finite() &&
      std::abs(reading.value) > settings_.volts_present_v) {
    end("volts-present", fmt::format("The meter shows {} while resistance is to be measured. Resistance work is stopped: "
                                     "take the probes off, disconnect the part and prove it dead.",
                                     human_value(reading.value, reading.quantity, reading.resolution)));
    return;
  }

  if (pending_) {
    const double digit = std::max(pending_->resolution, reading.resolution);
    const bool same = refused.empty() && reading.state == pending_->state &&
                      (!reading.finite() ||
                       std::abs(reading.value - pending_->value) <= (settings_.settle.within_digits + 1.0) * digit);
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

void QualifySession::settled(const Indication& indication) {
  const Step& step = steps_[index_];
  const int attempt = attempts_[step.number] + 1;
  Settled event{step.number, attempt, indication, needs_contact_statement(indication), std::nullopt};
  if (step.expected)
    event.outlook = judge(*step.expected, indication, witness_now(indication, hands_.states_contact()), profile_, meter_,
                          leads_, settings_.judge);
  emit(event);
  if (hands_.confirms_itself()) keep(hands_.states_contact());
}

bool QualifySession::placement_has_witness() const {
  return std::any_of(measured_.begin(), measured_.end(), [&](const Measured& m) {
    return m.placement == placement_ && m.indication.state == ReadingState::finite;
  });
}

Witness QualifySession::witness_now(const Indication& indication, bool stated) const {
  if (indication.state == ReadingState::finite) return Witness::not_needed;
  if (placement_has_witness()) return Witness::witnessed;
  return stated || stated_placements_.contains(placement_) ? Witness::stated : Witness::missing;
}

bool QualifySession::needs_contact_statement(const Indication& indication) const {
  const Step& step = steps_[index_];
  return step.kind == StepKind::measure && step.last_of_placement && !hands_.states_contact() &&
         witness_now(indication, false) == Witness::missing;
}

/// Safety and lead steps have conditions of their own. Returns whether the indication may be kept.
bool QualifySession::check_safety_step(const Step& step, const Indication& indication) {
  const bool finite = indication.state == ReadingState::finite;
  const std::string value =
      finite ? human_value(indication.value, indication.quantity, indication.resolution) : "over-range";
  switch (step.kind) {
    case StepKind::prove_meter:
    case StepKind::prove_meter_again:
      if (!finite || std::abs(indication.value) > settings_.volts_present_v) return true;
      if (hands_.confirms_itself())
        end("meter", "The meter shows " + value + " on a source known to be live: it is not proven. Do not go on with it.");
      else
        note("meter-not-proven", "The meter shows " + value + " on the known source. Check source, leads, dial and fuse, then "
                                 "try again; without a proven meter the part cannot be called dead.");
      return false;
    case StepKind::absence:
      if (finite && std::abs(indication.value) <= settings_.volts_present_v) return true;
      end("volts-present", fmt::format("{} is present on {} ({} at most is taken as dead). Resistance work is stopped: take the "
                                       "probes off, disconnect the part and prove it dead.",
                                       value, step.arrangement.pair.text(),
                                       human_value(settings_.volts_present_v, indication.quantity)));
      return false;
    case StepKind::leads_before:
    case StepKind::leads_after:
      if (finite) return true;
      if (hands_.confirms_itself())
        end("meter", "The shorted probes read over-range: a lead is broken or not plugged in.");
      else
        note("leads-open", "Over-range with the probes together: press the tips firmly together, or replace a broken lead.");
      return false;
    default: return true;
  }
}

void QualifySession::keep(bool contact_stated) {
  const Step& step = steps_[index_];
  const Indication indication = *pending_;
  if (!check_safety_step(step, indication)) return;
  const int attempt = ++attempts_[step.number];
  Kept kept{step, attempt, indication, contact_stated && step.kind == StepKind::measure, std::nullopt};
  if (step.kind == StepKind::measure) {
    if (kept.contact_stated) stated_placements_.insert(placement_);
    kept.finding = judge(*step.expected, indication, witness_now(indication, contact_stated), profile_, meter_, leads_,
                         settings_.judge);
    measured_.push_back({step.arrangement.position, step.arrangement.pair, indication, placement_, kept.contact_stated});
  } else if (step.kind == StepKind::leads_before) {
    if (!leads_.before) leads_.before = indication;
  } else if (step.kind == StepKind::leads_after) {
    leads_.after = indication;
  }
  emit(kept);
  if ((step.kind == StepKind::leads_before || step.kind == StepKind::leads_after) && indication.value > 1.0)
    note("leads-high", fmt::format("The leads read {}: that is much. Good leads have 0.1 to 0.3 ohm; clean the plugs and tips.",
                                   human_value(indication.value, indication.quantity, indication.resolution)));
  next();
}

void QualifySession::on_link(const LinkChange& change) {
  if (ended()) return;
  emit(LinkChanged{change});
  if (change.state == LinkState::lost || change.state == LinkState::silent) {
    last_trouble_ = change.detail;
    pending_.reset();
    if (settler_) settler_->reset();
  }
  if (change.state == LinkState::ended)
    end("meter", "The recording of the meter is at its end before the work was done. " + change.detail);
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
  end("meter", fmt::format("No settled reading for {} at step {} ({}). {}", human_seconds(settings_.patience_s), step.number,
                           step.instruction,
                           last_trouble_.empty() ? "No reading came at all: check the meter and its cable." : last_trouble_));
}

void QualifySession::acknowledge(const std::string& who, const std::string& how) {
  if (!current() || steps_[index_].kind != StepKind::acknowledge) return;
  acknowledged_ = true;
  emit(Acknowledged{{clock_.now().wall, "de-energised", who, how, de_energised_words()}});
  next();
}

void QualifySession::answer(std::optional<bool> yes, const std::string& note_text) {
  if (!current() || steps_[index_].kind != StepKind::inspect) return;
  const Step& step = steps_[index_];
  for (InspectionFinding& finding : inspection_) {
    if (finding.question.ask != step.question->ask) continue;
    finding.answer = yes;
    finding.note = note_text;
    emit(Answered{step.number, finding});
  }
  next();
}

void QualifySession::confirm() {
  if (!current()) return;
  const Step& step = steps_[index_];
  if (step.kind == StepKind::acknowledge || step.kind == StepKind::inspect) {
    note("answer-needed", "This step needs an answer, not just a confirmation.");
    return;
  }
  if (!pending_) {
    note("not-settled", last_trouble_.empty() ? "The reading has not settled yet: hold still and wait for the beep."
                                              : last_trouble_);
    return;
  }
  if (needs_contact_statement(*pending_)) {
    note("contact-needed", "Open at every position: that is also what a probe off the metal looks like. Press c if both probes "
                           "touch bare metal, p to place them again.");
    return;
  }
  keep(false);
}

void QualifySession::state_contact() {
  if (!current() || steps_[index_].kind != StepKind::measure) return;
  if (!pending_) {
    confirm();
    return;
  }
  keep(true);
}

void QualifySession::redo() {
  if (current()) show(index_);
}

void QualifySession::reseat() {
  if (!current()) return;
  std::size_t first = index_;
  const Pair pair = steps_[index_].arrangement.pair;
  while (first > 0 && steps_[first - 1].kind == steps_[index_].kind && steps_[first - 1].arrangement.pair == pair) --first;
  // What was read before the probes moved cannot witness what is read after.
  probes_on_.reset();
  std::erase_if(measured_, [&](const Measured& m) { return m.placement == placement_; });
  for (std::size_t i = first; i < steps_.size() && steps_[i].arrangement.pair == pair; ++i)
    measured_before_.erase({steps_[i].arrangement.position, pair});
  show(first);
}

void QualifySession::back() {
  if (!current()) return;
  if (index_ == 0 || steps_[index_ - 1].kind == StepKind::acknowledge) {
    note("first-step", "This is the first step.");
    return;
  }
  show(index_ - 1);
}

void QualifySession::skip(const std::string& reason) {
  if (!current()) return;
  const Step step = steps_[index_];
  if (step.kind == StepKind::acknowledge || on_voltage(step.kind)) {
    note("cannot-skip", "Safety steps cannot be skipped: the part must be proven dead before resistance is measured.");
    return;
  }
  if (reason.empty()) {
    note("reason-needed", "A skipped step needs a reason; it stands in the report.");
    return;
  }
  if (step.kind == StepKind::measure) skipped_.push_back({step.arrangement.position, step.arrangement.pair});
  emit(Skipped{step, reason});
  next();
}

void QualifySession::stop() {
  if (!ended()) end("operator", "Stopped by the operator. What was measured is kept; the record can be resumed.");
}

std::vector<Measured> QualifySession::measured() const {
  std::vector<Measured> all = measured_;
  for (Measured& m : all) m.contact_stated = stated_placements_.contains(m.placement);
  return all;
}

void QualifySession::judge_everything() {
  verdict_ = judge_all(profile_, expected_, measured(), inspection_, meter_, leads_, settings_.judge, plan_->left_out());
  if (settings_.knowledge)
    add_diagnosis(*verdict_, profile_, *settings_.knowledge, meter_, leads_, settings_.judge.k);
  verdict_->remarks.insert(verdict_->remarks.end(), settings_.meter_remarks.begin(), settings_.meter_remarks.end());
}

void QualifySession::finish() {
  state_ = State::ended;
  ++generation_;
  judge_everything();
  emit(VerdictReached{header_.id, *verdict_, leads_});
}

void QualifySession::end(const std::string& kind, const std::string& text) {
  state_ = State::ended;
  ++generation_;
  stopped_kind_ = kind;
  stopped_text_ = text;
  emit(Stopped{kind, text});
  if (kind == "volts-present") {
    // Volts on a part that was said to be dead is a result of its own: the record is closed, undecided.
    judge_everything();
    verdict_->outcome = verdict_->outcome == Outcome::fail ? Outcome::fail : Outcome::undecided;
    verdict_->headline = text;
    verdict_->remarks.insert(verdict_->remarks.begin(), text);
    emit(VerdictReached{header_.id, *verdict_, leads_});
  }
}

}  // namespace switchwright
