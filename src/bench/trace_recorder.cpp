#include <fmt/format.h>

#include <utility>

#include "bench/keeper.hpp"
#include "bench/keeping.hpp"
#include "switchwright/bench/trace_session.hpp"
#include "switchwright/core/error.hpp"

namespace switchwright {

TraceRecorder::TraceRecorder(Store& store, std::string record_id, TraceStream& events)
    : keeper_(std::make_unique<Keeper>(store, std::move(record_id))), events_(events) {
  events_.subscribe([this](const TraceEvent& event, Instant at) { on(event, at); });
}

TraceRecorder::~TraceRecorder() = default;

void TraceRecorder::on(const TraceEvent& event, Instant at) {
  bool now = false;
  std::visit(Overloaded{
                 [&](const TraceOpened& e) {
                   batch_.trace = e.setup;
                   batch_.channels = e.channels;
                 },
                 [&](const TraceAcknowledged& e) {
                   batch_.acknowledgements.push_back(e.acknowledgement);
                   now = true;
                 },
                 [&](const ChannelKnown& e) { batch_.channels.push_back(e.channel); },
                 [&](const SampleTaken& e) { batch_.samples.push_back(e.sample); },
                 [](const EdgeSeen&) {},
                 [](const CycleSeen&) {},
                 [](const Reconsidered&) {},
                 [&](const TraceLink& e) {
                   batch_.events.push_back({at.wall, "link-" + std::string{word_for(e.change.state)},
                                            e.name + (e.change.detail.empty() ? "" : ": " + e.change.detail)});
                   now = true;
                 },
                 [&](const TraceNote& e) {
                   if (e.kind != "store-failed" && e.kind != "store-lost")
                     batch_.events.push_back({at.wall, e.kind, e.text});
                 },
                 [&](const TraceEnded& e) {
                   batch_.events.push_back({at.wall, "ended-" + e.kind, e.text});
                   batch_.ended = at.wall;
                   now = true;
                 },
                 [&](const TraceJudged& e) {
                   batch_.results = e.results;
                   batch_.verdict = e.verdict;
                   now = true;
                 },
             },
             event);
  if (now) flush(at);
  tick(at);
}

void TraceRecorder::tick(Instant at) {
  if (seconds_between(last_write_, at.monotonic) >= 0.9) flush(at);
  if (const auto news = keeper_->news()) events_.emit(TraceNote{news->kind, news->text}, at);
}

void TraceRecorder::flush(Instant at) {
  last_write_ = at.monotonic;
  keeper_->hand(std::exchange(batch_, {}));
}

bool TraceRecorder::lost() const { return keeper_->state().lost; }

void TraceRecorder::close() {
  keeper_->hand(std::exchange(batch_, {}));
  keeper_->finish();
}

}  // namespace switchwright
