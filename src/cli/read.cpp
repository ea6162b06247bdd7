#include <fmt/format.h>

#include <cstdio>
#include <cstdlib>
#include <fstream>
#include <optional>
#include <utility>

#include "cli/choose/choices.hpp"
#include "cli/choose/places.hpp"
#include "cli/options/options.hpp"
#include "cli/output.hpp"
#include "cli/view/live_line.hpp"
#include "switchwright/bench/event.hpp"
#include "switchwright/core/clock.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/core/interrupt.hpp"
#include "switchwright/core/loop.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/meter/capture.hpp"
#include "switchwright/meter/meter.hpp"

namespace switchwright::cli {

namespace {

std::string words(const Reading& reading) {
  std::string text = reading.finite() ? human_value(reading.value, reading.quantity, reading.resolution)
                     : reading.state == ReadingState::over_range ? "over-range"
                                                                 : "no number";
  text += "  " + std::string{dial_words(reading.quantity)};
  if (reading.flags.hold) text += "  HOLD";
  if (reading.flags.relative) text += "  relative";
  if (reading.flags.min_max) text += "  kept extreme";
  if (reading.flags.low_battery) text += "  battery low";
  return text;
}

std::string csv(const Reading& reading) {
  return fmt::format("{},{},{},{},{},{}", iso8601(reading.at.wall), name_of(reading.quantity),
                     reading.finite() ? fmt::format("{:.12g}", reading.value) : std::string{},
                     unit_of(reading.quantity), reading.state == ReadingState::over_range ? 1 : 0, reading.resolution);
}

/// What the decoder counted, for the end of a run.
std::string summary(const FrameCounts& counts) {
  std::string text = fmt::format("{} readings", counts.accepted);
  for (const auto& [reason, count] : counts.rejected) {
    text += fmt::format(", {} {} rejected: {}", count, count == 1 ? "frame" : "frames", reason);
    if (const auto example = counts.examples.find(reason); example != counts.examples.end())
      text += ", like \"" + terminal_safe(example->second) + "\"";
  }
  if (counts.skipped_bytes > 0) text += fmt::format(", {} bytes belonged to no frame", counts.skipped_bytes);
  return text;
}

/// One run: what comes from the meter is shown until somebody or something ends it.
class ReadRun {
 public:
  ReadRun(ReadOptions options, const MeterDefinition& definition);
  int run();

 private:
  void on_reading(const Reading& reading);
  void on_link(const LinkChange& change);
  void set_meter(Meter& meter) const;
  void leave_line() {
    if (std::exchange(line_open_, false)) put("\n");
  }
  bool has_enough() const { return options_.count && taken_ >= *options_.count; }
  void fail(const std::string& why) {
    failure_.emplace(ErrorKind::meter, why, options_.port);
    loop_.stop();
  }

  ReadOptions options_;
  const MeterDefinition& definition_;
  const EndsWithReader for_reader_;
  Loop loop_;
  const SystemClock clock_;
  std::optional<CaptureWriter> capture_;
  bool live_ = false;  ///< one line that is written over
  LiveLine line_;
  bool line_open_ = false;  ///< the cursor stands at the end of the live line
  long taken_ = 0;
  std::string trouble_;
  std::optional<Error> failure_;
  bool interrupted_ = false;
};

ReadRun::ReadRun(ReadOptions options, const MeterDefinition& definition)
    : options_(std::move(options)), definition_(definition) {
  if (!options_.capture.empty()) capture_.emplace(options_.capture, definition_, options_.port, clock_.now());
  const char* const terminal = std::getenv("TERM");
  live_ = stdout_is_terminal() && !options_.json && !options_.csv && terminal && std::string_view{terminal} != "dumb";
}

void ReadRun::on_reading(const Reading& reading) {
  if (has_enough()) return;
  ++taken_;
  if (live_) {
    put("\r" + line_.add(reading, words(reading)) + "\x1b[K");
    flush_output();
    line_open_ = true;
  } else if (options_.json) {
    put_line(to_json(ReadingTaken{0, reading, ""}, reading.at));
  } else {
    put_line(options_.csv ? csv(reading) : words(reading));
  }
  if (has_enough()) loop_.stop();
}

void ReadRun::on_link(const LinkChange& change) {
  if (change.cannot_be_set) return fail(change.detail);
  if (change.remark) {
    leave_line();
    say(change.detail);
    return;
  }
  if (change.state == LinkState::silent || change.state == LinkState::lost) {
    trouble_ = change.detail;
    leave_line();
    say(trouble_);
    // Nobody waits at a script: a meter that never spoke is a failure, not a pause.
    if (change.state == LinkState::silent && taken_ == 0 && !interactive()) fail(change.detail);
  }
  if (change.state == LinkState::ended) loop_.stop();
}

/// The function that was asked for, where the tool can set it.
void ReadRun::set_meter(Meter& meter) const {
  if (options_.quantity.empty()) return;
  const auto quantity = quantity_named(options_.quantity);
  if (!quantity) throw Error(ErrorKind::usage, "\"" + options_.quantity + "\" is no quantity", "--quantity");
  if (!definition_.selects(*quantity))
    throw Error(ErrorKind::usage, "the tool cannot set this meter to " + std::string{dial_words(*quantity)},
                definition_.id, "turn the meter's dial");
  meter.select(*quantity);
}

int ReadRun::run() {
  MeterCallbacks callbacks;
  callbacks.reading = [this](const Reading& reading) { on_reading(reading); };
  callbacks.link = [this](const LinkChange& change) { on_link(change); };
  if (capture_) callbacks.bytes = [this](std::string_view bytes, Instant at) { capture_->write(bytes, at); };

  if (options_.csv) put_line("time,quantity,value,unit,over_range,resolution");
  const auto meter = open_meter(loop_, clock_, definition_, options_.port, callbacks, {.replay_fast = options_.fast});
  set_meter(*meter);
  Loop::Timer stop_later;
  if (options_.for_s) stop_later = loop_.after(from_seconds(*options_.for_s), [this] { loop_.stop(); });
  const Interrupt interrupt{loop_, [this] {
                              interrupted_ = true;
                              loop_.stop();
                            }};
  loop_.run();
  meter->stop();
  leave_line();
  say(summary(meter->counts()));
  if (failure_) throw *failure_;
  if (taken_ == 0 && !interrupted_)
    throw Error(ErrorKind::meter, trouble_.empty() ? "the meter gave no reading" : trouble_, options_.port,
                "check cable, dial and the definition; switchwright ports lists what is plugged in");
  return interrupted_ ? 130 : 0;
}

}  // namespace

int run(const ReadOptions& given) {
  ReadOptions options = given;
  // A capture says which meter it is of.
  if (options.meter.empty() && options.port.starts_with("replay:"))
    options.meter = load_capture(options.port.substr(7)).meter;
  Choices choices;
  const MeterDefinition definition = choices.meter(options.meter);
  options.port = choices.port(options.port);
  return ReadRun(std::move(options), definition).run();
}

}  // namespace switchwright::cli
