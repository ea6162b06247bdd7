// A trace under power: choose, acknowledge, open every meter, wire the listeners to the stream, run, judge,
// report.
#include <fmt/format.h>

#include <algorithm>
#include <cstdlib>
#include <optional>
#include <set>
#include <tuple>

#include "cli/choose/choices.hpp"
#include "cli/choose/claim.hpp"
#include "cli/choose/meter_identity.hpp"
#include "cli/choose/places.hpp"
#include "cli/choose/trace_channels.hpp"
#include "cli/options/options.hpp"
#include "cli/options/options_trace.hpp"
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

std::string position_of(const TraceOptions& options, const Profile& profile) {
  std::vector<std::string> known;
  for (const Position& position : profile.positions) known.push_back(position.id);
  std::string given = options.position;
  if (given.empty()) {
    if (!interactive())
      throw Error(ErrorKind::usage, "the position of the knob is missing", "",
                  "give it with --position: " + joined_with_and(known));
    put_line("\nWhere does the knob stand?");
    for (std::size_t i = 0; i < known.size(); ++i) put_line(fmt::format("  {:2}  {}", i + 1, known[i]));
    while (given.empty()) {
      given = ask_line("Number or name: ");
      if (!given.empty() && given.find_first_not_of("0123456789") == std::string::npos) {
        const auto number = std::strtoul(given.c_str(), nullptr, 10);
        given = number >= 1 && number <= known.size() ? known[number - 1] : std::string{};
      }
    }
  }
  if (profile.position(given) == nullptr)
    throw Error(ErrorKind::usage, "profile " + profile.id + " has no position \"" + terminal_safe(given) + "\"",
                "--position", suggestion(given, known));
  return given;
}

/// Asked again until it can be read; empty is not known.
template <class Parse>
auto asked_number(Choices& choices, const char* key, const char* question, const std::string& given, bool ask,
                  const Parse& parse) -> std::pair<std::string, std::optional<double>> {
  std::string text = given;
  while (ask || !text.empty()) {
    if (ask && text.empty()) text = choices.text(key, question, "");
    if (text.empty()) break;
    try {
      return {text, parse(text)};
    } catch (const Error& error) {
      if (!ask) throw;
      put_line(error.what());
      text.clear();
    }
  }
  return {};
}

TraceSetup ask_setup(const TraceOptions& options, const Profile& profile, Choices& choices) {
  TraceSetup setup;
  setup.position = position_of(options, profile);
  // Asked for only where somebody answers; a script states them by option or leaves them unknown.
  const bool ask = interactive() && !options.json;
  setup.supply_v =
      asked_number(choices, "supply", "Supply voltage, V (empty: not known)", options.supply, ask, parse_volts).second;
  std::tie(setup.load, setup.load_ohm) = asked_number(
      choices, "load", "Load, like 2400W@240 or 24ohm (empty: not known)", options.load, ask, parse_load_ohm);
  setup.ambient_c = asked_number(choices, "ambient", "Ambient temperature, degC (empty: not known)", options.ambient,
                                 ask, parse_celsius)
                        .second;
  setup.setting = options.setting;
  if (ask && setup.setting.empty()) setup.setting = choices.text("setting", "How the knob stands, in words", "");
  return setup;
}

Acknowledgement acknowledged(const TraceOptions& options) {
  Acknowledgement given;
  given.what = "energised";
  for (const std::string& caution : energised_cautions()) given.text += (given.text.empty() ? "" : " ") + caution;
  given.who = options.operator_name;
  if (!options.acknowledge.empty()) {
    given.how = "option --acknowledge";
  } else if (interactive()) {
    put_line("\nBefore anything is energised:");
    for (const std::string& caution : energised_cautions()) put_line("  * " + caution);
    const std::string who = ask_line("\nType your name to acknowledge, or nothing to leave: ");
    if (who.empty()) throw Error(ErrorKind::interrupted, "not acknowledged, so nothing was recorded");
    given.who = who;
    given.how = "typed at the terminal";
  } else {
    throw Error(ErrorKind::usage, "the acknowledgement of energised work is missing", "",
                "read the cautions in the README and give --acknowledge energised");
  }
  given.at = SystemClock{}.now().wall;
  return given;
}

/// A dumb terminal gets lines.
bool can_draw() {
  const char* term = std::getenv("TERM");
  return term != nullptr && *term != '\0' && std::string_view{term} != "dumb";
}

}  // namespace

int run(const TraceOptions& given) {
  if (!given.report.empty()) require_report_place(given.report);
  TraceOptions options = given;
  Choices choices;
  const Profile profile = choices.profile(options.profile);
  std::vector<ChosenChannel> wanted = chosen_channels(options, profile, choices, SystemClock{}.now().wall);
  if (!interactive() && options.acknowledge.empty()) acknowledged(options);  // says what is missing
  const TraceSetup setup = ask_setup(options, profile, choices);
  if (interactive() && !options.json) {
    options.part = choices.text("part", "Part", options.part);
    options.serial = choices.text("serial", "Serial number or tag", options.serial);
    options.operator_name = choices.text("operator", "Operator", options.operator_name);
    choices.remember();
  }
  const Claim claim = chosen_claim(options.claim);
  if (!interactive()) options.operator_name = named_operator(options.operator_name);
  const Acknowledgement acknowledgement = acknowledged(options);
  Store store{store_place(options.store)};

  const EndsWithReader for_reader;
  Loop loop;
  const SystemClock clock;
  Instant zero = clock.now();
  RecordHeader header;
  header.kind = RecordKind::trace;
  header.started = zero.wall;
  header.tool_version = SWITCHWRIGHT_VERSION;
  header.operator_name = options.operator_name.empty() ? acknowledgement.who : options.operator_name;
  header.claim = claim;
  stamp_zone(header);
  header.part = options.part;
  header.serial = options.serial;
  header.profile_id = profile.id;
  header.profile_title = profile.title;
  header.profile_values = profile.values;
  header.profile_text = profile.source_text;
  header.rule = options.rule;
  if (!options.require.empty()) header.require = parse_scope_parts(options.require);
  header.hands = "person";
  header.simulated = options.simulated;
  TraceStream events;
  TraceSession* session_ptr = nullptr;
  std::vector<std::unique_ptr<Meter>> meters;
  std::optional<Error> failure;
  std::uint64_t samples = 0;
  std::set<int> quiet;
  std::vector<std::vector<LinkChange>> before_session(wanted.size());
  for (std::size_t i = 0; i < wanted.size(); ++i) {
    const int number = static_cast<int>(i) + 1;
    MeterCallbacks callbacks;
    callbacks.reading = [&, number](const Reading& reading) {
      if (!session_ptr) return;
      ++samples;
      session_ptr->on_reading(number, reading);
    };
    callbacks.link = [&, number, i](const LinkChange& change) {
      if (!session_ptr) return before_session[i].push_back(change);
      session_ptr->on_link(number, change);
      if (change.cannot_be_set) {
        failure.emplace(ErrorKind::meter, change.detail, wanted[i].name + " at " + wanted[i].port);
        loop.post([&] { session_ptr->stop(); });
        return;
      }
      if (change.state == LinkState::silent || change.state == LinkState::lost) quiet.insert(number);
      if (change.state == LinkState::alive) quiet.erase(number);
      // Nobody waits at a script: when no meter ever spoke, that is a failure, not a pause.
      if (samples == 0 && quiet.size() == wanted.size() && !interactive()) {
        failure.emplace(ErrorKind::meter, change.detail, wanted[i].name + " at " + wanted[i].port);
        loop.post([&] { session_ptr->stop(); });
      }
    };
    meters.push_back(open_meter(loop, clock, wanted[i].meter, wanted[i].port, callbacks));
    if (wanted[i].meter.selects(Quantity::voltage_ac)) meters.back()->select(Quantity::voltage_ac);
  }
  // The record names the meters that answer.
  std::vector<std::string> identities;
  bool asked = false;
  for (std::size_t i = 0; i < wanted.size(); ++i) {
    const bool can_say =
        !options.simulated && !wanted[i].port.starts_with("replay:") && wanted[i].meter.decoder.kind == "scpi";
    identities.push_back(can_say ? identity_of(loop, *meters[i], wanted[i].meter, before_session[i]) : std::string{});
    asked = asked || can_say;
  }
  recognise(wanted, identities, clock.now().wall);
  if (asked) zero = clock.now();  // the time it took to ask belongs to no trace
  header.started = zero.wall;
  const ChosenChannel& first = wanted.front();
  header.meter_id = first.meter.id;
  header.meter_title = first.meter.title;
  header.meter_text = first.meter.source_text;
  header.meter_serial = first.serial;
  header.meter_calibrated = first.calibrated;
  header.port = first.port;
  std::vector<std::string> meter_remarks;
  for (const ChosenChannel& one : wanted)
    meter_remarks.insert(meter_remarks.end(), one.remarks.begin(), one.remarks.end());

  header.id = store.begin(header);
  TraceSession session{header, setup,  channel_rows(wanted), {options.for_s, options.cycles}, zero,
                       clock,  events, meter_remarks};
  session_ptr = &session;
  TraceRecorder recorder{store, header.id, events};
  const bool screen = !options.json && interactive() && can_draw();
  const auto view = options.json ? make_trace_json_view()
                    : screen     ? make_trace_screen_view(session)
                                 : make_trace_line_view();
  bool reader_gone = false;
  const auto show = [&](const auto& what) {
    if (reader_gone) return;
    try {
      what();
    } catch (const ClosedPipe&) {
      reader_gone = true;  // nobody reads, but what is measured is still kept
      loop.post([&] { session.stop(); });
    }
  };
  events.subscribe([&](const TraceEvent& event, Instant at) { show([&] { view->on(event, at); }); });
  events.subscribe([&](const TraceEvent& event, Instant) {
    if (std::holds_alternative<TraceEnded>(event)) loop.post([&] { loop.stop(); });
  });
  const Interrupt interrupt{loop, [&] { session.stop(); }};
  std::optional<Keyboard> keyboard;
  if (screen)
    keyboard.emplace(
        loop,
        [&](char key) {
          if (key == 'q' || key == 'Q') session.stop();
          show([&] { view->key(key); });
        },
        [] {});
  Loop::Timer tick;
  std::function<void()> ticking = [&] {
    session.on_pulse();
    recorder.tick(clock.now());
    if (recorder.lost()) session.stop();
    show([&] { view->tick(); });
    tick = loop.after(std::chrono::milliseconds{100}, ticking);
  };
  loop.post([&] {
    session.start(acknowledgement);
    for (std::size_t i = 0; i < before_session.size(); ++i)
      for (const LinkChange& change : before_session[i]) session.on_link(static_cast<int>(i) + 1, change);
    ticking();
  });
  try {
    loop.run();
  } catch (...) {
    recorder.close();  // whatever went wrong, what was measured is kept
    throw;
  }
  keyboard.reset();
  for (const auto& meter : meters) meter->stop();
  recorder.close();
  if (failure) throw *failure;
  if (samples == 0) throw Error(ErrorKind::meter, "no meter gave a sample", "", "check cables, dials and definitions");

  TraceAnalysis analysis;
  const TraceJudged judged = judge_trace(store, header.id, analysis);
  events.emit(judged, clock.now());
  recorder.close();
  if (!options.json) say("record " + header.id + " in " + store.path().string());
  if (!options.report.empty()) {
    write_report_file(options.report, *make_exporter(format_for(options.report)), store.load(header.id, true));
    if (!options.json) say("report written to " + options.report);
  }
  return session.complete() && !reader_gone ? exit_code(judged.verdict.outcome) : 130;
}

}  // namespace switchwright::cli
