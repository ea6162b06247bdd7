#include "switchwright/bench/recorder.hpp"

#include <fmt/format.h>

#include <utility>

#include "bench/keeper.hpp"
#include "bench/keeping.hpp"
#include "switchwright/core/error.hpp"

namespace switchwright {

namespace {

StepRow row_of(const Step& step, int placement, Wall at) {
  return {step.number,
          to_string(step.kind),
          step.arrangement.pair.first(),
          step.arrangement.pair.second(),
          step.arrangement.position,
          step.instruction,
          at,
          placement};
}

}  // namespace

Recorder::Recorder(Store& store, std::string record_id, EventStream& events)
    : keeper_(std::make_unique<Keeper>(store, std::move(record_id))), events_(events) {
  events_.subscribe([this](const Event& event, Instant at) { on(event, at); });
}

Recorder::~Recorder() = default;

void Recorder::on(const Event& event, Instant at) {
  bool now = false;
  std::visit(
      Overloaded{
          [](const SessionOpened&) {},
          [&](const StepShown& e) {
            // What was acknowledged or answered has a row of its own.
            if (e.step.kind != StepKind::acknowledge && e.step.kind != StepKind::inspect)
              batch_.steps.push_back(row_of(e.step, e.placement, at.wall));
          },
          [&](const ReadingTaken& e) {
            batch_.readings.push_back({e.step, e.reading});
          },
          [](const Settled&) {},
          [](const Unsettled&) {},
          [&](const Kept& e) {
            batch_.indications.push_back({e.step.number, e.attempt, e.indication, e.contact_stated, e.placement});
            if (e.step.kind == StepKind::leads_before) batch_.leads_before = e.indication;
            if (e.step.kind == StepKind::leads_after) batch_.leads_after = e.indication;
            if (e.drop) batch_.results.push_back(result_of(*e.drop));
            now = true;
          },
          [&](const Acknowledged& e) {
            batch_.acknowledgements.push_back(e.acknowledgement);
            now = true;
          },
          [&](const Answered& e) {
            const auto& answer = e.finding.answer;
            batch_.events.push_back({at.wall, "inspection",
                                     fmt::format("{} -> {}{}", e.finding.question.ask,
                                                 !answer   ? "not answered"
                                                 : *answer ? "yes"
                                                           : "no",
                                                 e.finding.note.empty() ? "" : " (" + e.finding.note + ")")});
            now = true;
          },
          [&](const StatedTaken& e) {
            batch_.stated.push_back(e.result);
            now = true;
          },
          [&](const Skipped& e) {
            batch_.events.push_back(
                {at.wall, "skipped", fmt::format("step {}: {} ({})", e.step.number, e.step.instruction, e.reason)});
            now = true;
          },
          [&](const LinkChanged& e) {
            batch_.events.push_back({at.wall, "link-" + std::string{word_for(e.change.state)}, e.change.detail});
            now = true;
          },
          [&](const Note& e) {
            if (e.kind != "store-failed" && e.kind != "store-lost")
              batch_.events.push_back({at.wall, e.kind, e.text, e.placement});
          },
          [&](const VerdictReached& e) {
            batch_.verdict = e.verdict;
            batch_.ended = at.wall;
            now = true;
          },
          [&](const Completed& e) {
            batch_.events.push_back(
                {at.wall, "completed", fmt::format("{} readings, all that was to be read", e.readings)});
            now = true;
          },
          [&](const Stopped& e) {
            batch_.events.push_back({at.wall, "stopped-" + e.kind, e.text});
            now = true;
          },
      },
      event);
  if (now) flush(at);
  tick(at);
}

void Recorder::tick(Instant at) {
  if (seconds_between(last_write_, at.monotonic) >= 1.0) flush(at);
  if (const auto news = keeper_->news()) events_.emit(Note{news->kind, news->text}, at);
}

void Recorder::flush(Instant at) {
  last_write_ = at.monotonic;
  keeper_->hand(std::exchange(batch_, {}));
}

bool Recorder::lost() const { return keeper_->state().lost; }

void Recorder::close() {
  keeper_->hand(std::exchange(batch_, {}));
  keeper_->finish();
}

}  // namespace switchwright
