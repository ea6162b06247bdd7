// A trace under power: choose, acknowledge, open every meter, wire the listeners to the stream, run, judge,
// report.
#include <fmt/format.h>

#include <algorithm>
#include <cstdlib>
#include <optional>
#include <set>

#include "cli/choose/claim.hpp"
#include "cli/choose/meter_identity.hpp"
#include "cli/choose/places.hpp"
#include "cli/choose/trace_channels.hpp"
#include "cli/choose/trace_choice.hpp"
#include "cli/options/options.hpp"
#include "cli/output.hpp"
#include "cli/verdict_exit.hpp"
#include "cli/view/keyboard.hpp"
#include "cli/view/trace_views.hpp"
#include "cli/write_report.hpp"
#include "switchwright/bench/trace_session.hpp"
#include "switchwright/core/durable_file.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/core/interrupt.hpp"
#include "switchwright/core/loop.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/meter/meter.hpp"
#include "switchwright/report/exporter.hpp"

namespace switchwright::cli {

namespace {

/// A dumb terminal gets lines.
bool can_draw() {
  const char* term = std::getenv("TERM");
  return term != nullptr && *term != '\0' && std::string_view{term} != "dumb";
}

/// What is known before a meter has answered.
RecordHeader header_of(const TraceChoice& chosen, Wall started) {
  const TraceOptions& options = chosen.options;
  RecordHeader header;
  header.kind = RecordKind::trace;
  header.started = started;
  header.tool_version = SWITCHWRIGHT_VERSION;
  header.operator_name = options.operator_name.empty() ? chosen.acknowledgement.who : options.operator_name;
  header.claim = chosen.claim;
  stamp_zone(header);
  header.part = options.part;
  header.serial = options.serial;
  header.profile_id = chosen.profile.id;
  header.profile_title = chosen.profile.title;
  header.profile_values = chosen.profile.values;
  header.profile_text = chosen.profile.source_text;
  header.rule = options.rule;
  if (!options.require.empty()) header.require = parse_scope_parts(options.require);
  header.hands = "person";
  header.simulated = options.simulated;
  return header;
}

/// The record's meter is the first; the others stand with their channels.
void name_meter(RecordHeader& header, const ChosenChannel& first) {
  header.meter_id = first.meter.id;
  header.meter_title = first.meter.title;
  header.meter_text = first.meter.source_text;
  header.meter_serial = first.serial;
  header.meter_calibrated = first.calibrated;
  header.port = first.port;
}

/// The meters of a trace. What they say before the session listens waits for it.
class TraceMeters {
 public:
  TraceMeters(Loop& loop, const Clock& clock, std::vector<ChosenChannel>& channels)
      : loop_(loop), channels_(channels), early_(channels.size()) {
    for (std::size_t i = 0; i < channels.size(); ++i) {
      MeterCallbacks callbacks;
      callbacks.reading = [this, i](const Reading& reading) { on_reading(i, reading); };
      callbacks.link = [this, i](const LinkChange& change) { on_link(i, change); };
      meters_.push_back(open_meter(loop, clock, channels[i].meter, channels[i].port, callbacks));
      if (channels[i].meter.selects(Quantity::voltage_ac)) meters_.back()->select(Quantity::voltage_ac);
    }
  }

  /// The record names the meters that answer. @returns whether any was asked.
  bool ask_who_they_are(bool simulated, Wall now) {
    std::vector<std::string> identities;
    bool asked = false;
    for (std::size_t i = 0; i < channels_.size(); ++i) {
      const ChosenChannel& one = channels_[i];
      const bool can_say = !simulated && !one.port.starts_with("replay:") && one.meter.decoder.kind == "scpi";
      identities.push_back(can_say ? identity_of(loop_, *meters_[i], one.meter, early_[i]) : std::string{});
      asked = asked || can_say;
    }
    recognise(channels_, identities, now);
    return asked;
  }

  void listen_from_now_on(TraceSession& session) { session_ = &session; }
  void tell_what_came_early() {
    for (std::size_t i = 0; i < early_.size(); ++i)
      for (const LinkChange& change : early_[i]) session_->on_link(number_of(i), change);
  }

  void stop() {
    for (const auto& meter : meters_) meter->stop();
  }

  /// @throws Error(meter) where nothing was, or could be, measured.
  void require_samples() const {
    if (failure_) throw *failure_;
    if (samples_ == 0)
      throw Error(ErrorKind::meter, "no meter gave a sample", "", "check cables, dials and definitions");
  }

 private:
  static int number_of(std::size_t channel) { return static_cast<int>(channel) + 1; }

  void on_reading(std::size_t i, const Reading& reading) {
    if (!session_) return;
    ++samples_;
    session_->on_reading(number_of(i), reading);
  }

  void on_link(std::size_t i, const LinkChange& change) {
    if (!session_) return early_[i].push_back(change);
    session_->on_link(number_of(i), change);
    if (change.cannot_be_set) return give_up(i, change);
    if (change.state == LinkState::silent || change.state == LinkState::lost) quiet_.insert(i);
    if (change.state == LinkState::alive) quiet_.erase(i);
    // Nobody waits at a script: when no meter ever spoke, that is a failure, not a pause.
    if (samples_ == 0 && quiet_.size() == channels_.size() && !interactive()) give_up(i, change);
  }

  void give_up(std::size_t i, const LinkChange& change) {
    failure_.emplace(ErrorKind::meter, change.detail, channels_[i].name + " at " + channels_[i].port);
    loop_.post([this] { session_->stop(); });
  }

  Loop& loop_;
  std::vector<ChosenChannel>& channels_;
  std::vector<std::unique_ptr<Meter>> meters_;
  std::vector<std::vector<LinkChange>> early_;
  TraceSession* session_ = nullptr;
  std::optional<Error> failure_;
  std::uint64_t samples_ = 0;
  std::set<std::size_t> quiet_;
};

/// Shows what happens, to the end of the judgement. When nobody reads any more the session is stopped; what is measured is kept.
class Shown {
 public:
  Shown(Loop& loop, TraceStream& events, TraceSession& session, TraceView& view)
      : loop_(loop), session_(session), view_(view) {
    events.subscribe([this](const TraceEvent& event, Instant at) { show([&] { view_.on(event, at); }); });
  }

  bool is_read() const { return is_read_; }
  void tick() {
    show([&] { view_.tick(); });
  }
  void key(char pressed) {
    if (pressed == 'q' || pressed == 'Q') session_.stop();
    show([&] { view_.key(pressed); });
  }

 private:
  template <class What>
  void show(const What& what) {
    if (!is_read_) return;
    try {
      what();
    } catch (const ClosedPipe&) {
      is_read_ = false;
      loop_.post([this] { session_.stop(); });
    }
  }

  Loop& loop_;
  TraceSession& session_;
  TraceView& view_;
  bool is_read_ = true;
};

/// Runs the session until it has ended; whatever goes wrong, what was measured is kept.
void run_trace(Loop& loop, const Clock& clock, TraceSession& session, TraceRecorder& recorder, Shown& shown,
               const std::function<void()>& begin, bool screen) {
  const Interrupt interrupt{loop, [&] { session.stop(); }};
  std::optional<Keyboard> keyboard;
  if (screen)
    keyboard.emplace(
        loop, [&](char pressed) { shown.key(pressed); }, [] {});
  Loop::Timer tick;
  std::function<void()> ticking = [&] {
    session.on_pulse();
    recorder.tick(clock.now());
    if (recorder.lost()) session.stop();
    shown.tick();
    tick = loop.after(std::chrono::milliseconds{100}, ticking);
  };
  loop.post([&] {
    begin();
    ticking();
  });
  try {
    loop.run();
  } catch (...) {
    recorder.close();
    throw;
  }
}

}  // namespace

int run(const TraceOptions& given) {
  if (!given.report.empty()) require_report_place(given.report);
  TraceChoice chosen = choose_trace(given);
  const TraceOptions& options = chosen.options;
  Store store{store_place(options.store)};

  const EndsWithReader for_reader;
  Loop loop;
  const SystemClock clock;
  Instant zero = clock.now();
  RecordHeader header = header_of(chosen, zero.wall);
  TraceMeters meters{loop, clock, chosen.channels};
  if (meters.ask_who_they_are(options.simulated, zero.wall)) zero = clock.now();  // asking belongs to no trace
  header.started = zero.wall;
  name_meter(header, chosen.channels.front());
  std::vector<std::string> remarks;
  for (const ChosenChannel& one : chosen.channels)
    remarks.insert(remarks.end(), one.remarks.begin(), one.remarks.end());

  header.id = store.begin(header);
  TraceStream events;
  TraceSession session{
      header, chosen.setup, channel_rows(chosen.channels), {options.for_s, options.cycles}, zero, clock,
      events, remarks};
  meters.listen_from_now_on(session);
  TraceRecorder recorder{store, header.id, events};
  const bool screen = !options.json && interactive() && can_draw();
  const auto view = options.json ? make_trace_json_view()
                    : screen     ? make_trace_screen_view(session)
                                 : make_trace_line_view();
  const auto begin = [&] {
    session.start(chosen.acknowledgement);
    meters.tell_what_came_early();
  };
  Shown shown{loop, events, session, *view};
  events.subscribe([&](const TraceEvent& event, Instant) {
    if (std::holds_alternative<TraceEnded>(event)) loop.post([&] { loop.stop(); });
  });
  run_trace(loop, clock, session, recorder, shown, begin, screen);
  meters.stop();
  recorder.close();
  meters.require_samples();

  TraceAnalysis analysis;
  const TraceJudged judged = judge_trace(store, header.id, analysis);
  events.emit(judged, clock.now());
  recorder.close();
  if (!options.json) say("record " + header.id + " in " + store.path().string());
  if (!options.report.empty()) {
    write_report_file(options.report, *make_exporter(format_for(options.report)), store.load(header.id, true));
    if (!options.json) say("report written to " + options.report);
  }
  return session.complete() && shown.is_read() ? exit_code(judged.verdict.outcome) : 130;
}

}  // namespace switchwright::cli
