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

}  // namespace

int run(const ReadOptions& given) {
  ReadOptions options = given;
  // A capture says which meter it is of.
  if (options.meter.empty() && options.port.starts_with("replay:"))
    options.meter = load_capture(options.port.substr(7)).meter;
  Choices choices;
  const MeterDefinition definition = choices.meter(options.meter);
  options.port = choices.port(options.port);

  const EndsWithReader for_reader;
  Loop loop;
  const SystemClock clock;
  long taken = 0;
  std::optional<Error> failure;
  bool interrupted = false;
  std::string trouble;
  Loop::Timer stop_later;
  std::optional<CaptureWriter> capture;
  if (!options.capture.empty()) capture.emplace(options.capture, definition, options.port, clock.now());

  MeterCallbacks callbacks;
  const char* const terminal = std::getenv("TERM");
  const bool live =
      stdout_is_terminal() && !options.json && !options.csv && terminal && std::string_view{terminal} != "dumb";
  LiveLine line;
  bool line_open = false;  // the cursor stands at the end of the live line
  const auto leave_line = [&] {
    if (std::exchange(line_open, false)) put("\n");
  };
  callbacks.reading = [&](const Reading& reading) {
    if (options.count && taken >= *options.count) return;
    ++taken;
    if (live) {
      put("\r" + line.add(reading, words(reading)) + "\x1b[K");
      flush_output();
      line_open = true;
    } else if (options.json)
      put_line(to_json(ReadingTaken{0, reading, ""}, reading.at));
    else
      put_line(options.csv ? csv(reading) : words(reading));
    if (options.count && taken >= *options.count) loop.stop();
  };
  callbacks.link = [&](const LinkChange& change) {
    if (change.cannot_be_set) {
      failure.emplace(ErrorKind::meter, change.detail, options.port);
      loop.stop();
      return;
    }
    if (change.remark) {
      leave_line();
      say(change.detail);
      return;
    }
    if (change.state == LinkState::silent || change.state == LinkState::lost) {
      trouble = change.detail;
      leave_line();
      say(trouble);
      // Nobody waits at a script: a meter that never spoke is a failure, not a pause.
      if (change.state == LinkState::silent && taken == 0 && !interactive()) {
        failure.emplace(ErrorKind::meter, change.detail, options.port);
        loop.stop();
      }
    }
    if (change.state == LinkState::ended) loop.stop();
  };
  if (capture) callbacks.bytes = [&](std::string_view bytes, Instant at) { capture->write(bytes, at); };

  if (options.csv) put_line("time,quantity,value,unit,over_range,resolution");
  auto meter = open_meter(loop, clock, definition, options.port, callbacks, {.replay_fast = options.fast});
  if (!options.quantity.empty()) {
    const auto quantity = quantity_named(options.quantity);
    if (!quantity) throw Error(ErrorKind::usage, "\"" + options.quantity + "\" is no quantity", "--quantity");
    if (!definition.selects(*quantity))
      throw Error(ErrorKind::usage, "the tool cannot set this meter to " + std::string{dial_words(*quantity)},
                  definition.id, "turn the meter's dial");
    meter->select(*quantity);
  }
  if (options.for_s) stop_later = loop.after(from_seconds(*options.for_s), [&] { loop.stop(); });
  const Interrupt interrupt{loop, [&] {
                              interrupted = true;
                              loop.stop();
                            }};
  loop.run();
  meter->stop();
  leave_line();
  say(summary(meter->counts()));
  if (failure) throw *failure;
  if (taken == 0 && !interrupted)
    throw Error(ErrorKind::meter, trouble.empty() ? "the meter gave no reading" : trouble, options.port,
                "check cable, dial and the definition; switchwright ports lists what is plugged in");
  return interrupted ? 130 : 0;
}

}  // namespace switchwright::cli
