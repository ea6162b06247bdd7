// The guided qualification: choose, open, wire the listeners to the stream, run, report.
#include <fmt/format.h>

#include <algorithm>
#include <cstdlib>
#include <optional>

#include "cli/choices.hpp"
#include "cli/keyboard.hpp"
#include "cli/meter_identity.hpp"
#include "cli/options.hpp"
#include "cli/output.hpp"
#include "cli/own_meter.hpp"
#include "cli/places.hpp"
#include "cli/views.hpp"
#include "cli/write_report.hpp"
#include "switchwright/bench/interrupt.hpp"
#include "switchwright/bench/plan.hpp"
#include "switchwright/bench/recorder.hpp"
#include "switchwright/bench/scanner.hpp"
#include "switchwright/bench/session.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/core/loop.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/meter/meter.hpp"
#include "switchwright/report/exporter.hpp"

namespace switchwright::cli {

namespace {

bool is_scanner(const std::string& who) { return who.starts_with("scanner:"); }

std::unique_ptr<Hands> make_hands(Loop& loop, const std::string& who) {
  if (who == "person") return person_hands(loop);
  if (who.starts_with("sim:")) return simulator_hands(loop, who.substr(4));
  throw Error(ErrorKind::usage, "\"" + who + "\" are no hands", "--hands", "use person, scanner:FILE.toml or sim:SOCKET");
}

bool acknowledges(const QualifyOptions& options, const char* what) {
  return std::find(options.acknowledge.begin(), options.acknowledge.end(), what) != options.acknowledge.end();
}

/// Hands other than a person, and a person without a terminal, cannot be asked: each part's acknowledgement must be given.
void require_acknowledgements(const QualifyOptions& options) {
  const bool person = options.hands == "person";
  if (person && interactive()) return;
  if (options.powered != "only" && !acknowledges(options, "de-energised"))
    throw Error(ErrorKind::usage,
                person ? "the acknowledgement that the part is de-energised is missing"
                       : "resistance work needs the acknowledgement that the part is de-energised",
                "", "give --acknowledge de-energised when it is");
  if (!options.powered.empty() && !acknowledges(options, "energised"))
    throw Error(ErrorKind::usage, "work under power needs its own acknowledgement", "",
                "give --acknowledge energised when this is true: " + energised_words());
}

bool is_qualification(const std::string& kind) {
  return kind == "qualify" || kind == "qualify-powered" || kind == "powered";
}

/// "qualify", "qualify-powered", "powered": a resumed record goes on as it was begun.
std::string record_kind(const QualifyOptions& options) {
  return options.powered.empty() ? "qualify" : options.powered == "only" ? "powered" : "qualify-powered";
}

SessionSettings session_settings(const QualifyOptions& options) {
  SessionSettings settings;
  settings.judge.rule = options.rule == "simple" ? DecisionRule::simple : DecisionRule::guarded;
  settings.settle.for_s = options.settle_s;
  settings.patience_s = options.patience_s;
  settings.plan = options.plan;
  settings.cost = load_route_cost("person", profile_places());
  settings.knowledge = std::make_shared<const Knowledge>(load_knowledge(profile_places()));
  if (acknowledges(options, "de-energised")) settings.acknowledged_by = options.operator_name;
  if (acknowledges(options, "energised")) settings.energised_by = options.operator_name;
  if (!options.powered.empty())
    settings.powered = options.powered == "only" ? PoweredPart::only : PoweredPart::after_continuity;
  if (!options.inspected.empty()) settings.inspection = options.inspected == "yes";
  return settings;
}

std::optional<Record> to_resume(const Store& store, const QualifyOptions& options) {
  if (options.resume.empty()) return std::nullopt;
  auto unfinished = store.unfinished();
  std::erase_if(unfinished, [](const RecordSummary& record) { return !is_qualification(record.kind); });
  if (options.resume == "latest" && unfinished.empty())
    throw Error(ErrorKind::usage, "no record is unfinished", store.path().string(), "start a new one without --resume");
  Record record = store.load(options.resume == "latest" ? unfinished.front().id : options.resume);
  if (record.verdict)
    throw Error(ErrorKind::usage, "record " + record.header.id + " is finished", "--resume",
                "start a new one, or see it with: switchwright report " + record.header.id);
  if (!is_qualification(record.header.kind))
    throw Error(ErrorKind::usage, "record " + record.header.id + " is a " + record.header.kind + ", not a qualification", "--resume",
                "begin a new trace instead");
  return record;
}

/// Somebody who comes back to the bench is asked whether to go on where the work stopped.
std::string ask_to_resume(const Store& store) {
  auto unfinished = store.unfinished();
  std::erase_if(unfinished, [](const RecordSummary& record) { return !is_qualification(record.kind); });
  if (unfinished.empty()) return {};
  const RecordSummary& last = unfinished.front();
  const std::string answer = ask_line(fmt::format("\nUnfinished: record {}, {} {} as {}. Go on with it? y or n [n]: ", last.id,
                                                  terminal_safe(last.part), terminal_safe(last.serial), last.profile_id));
  return answer == "y" || answer == "yes" ? last.id : std::string{};
}

/// The command that goes on with a record; a scanner's map is not in the record.
std::string resume_words(const std::string& id, const QualifyOptions& options) {
  return "switchwright qualify --resume " + id + (is_scanner(options.hands) ? " --hands " + options.hands : "");
}

int exit_code(Outcome outcome) {
  return outcome == Outcome::pass ? 0 : outcome == Outcome::fail ? 1 : 3;
}

}  // namespace

int run(const QualifyOptions& given) {
  QualifyOptions options = given;
  Store store{store_place(options.store)};
  if (options.resume.empty() && options.profile.empty() && interactive()) options.resume = ask_to_resume(store);
  const auto earlier = to_resume(store, options);
  if (earlier) {
    const RecordHeader& header = earlier->header;
    if (options.profile.empty()) options.profile = header.profile_id;
    if (options.meter.empty()) options.meter = header.meter_id;
    if (options.port.empty() && !header.simulated) options.port = header.port;
    if (options.operator_name.empty()) options.operator_name = header.operator_name;
    if (options.plan.empty()) options.plan = header.plan;
    if (header.hands == "scanner" && options.hands == "person")
      say("this record was begun with a scanner; to go on with it give --hands scanner:FILE.toml");
    options.powered = header.kind == "powered" ? "only" : header.kind == "qualify-powered" ? "after" : "";
  }

  Choices choices;
  const Profile profile = choices.profile(options.profile);
  if (!options.powered.empty() && !profile.powered)
    throw Error(ErrorKind::usage, "the profile " + profile.id + " says nothing about power", "--powered",
                "leave --powered away, or add a [powered] part with the supply and the load to the profile");
  const bool simulated = options.hands.starts_with("sim:");
  std::optional<OwnMeter> own;
  if (!options.own.empty()) {
    own = own_meter(options.own);
    if (options.meter.empty()) options.meter = own->definition;
    if (definition_id(options.meter) != definition_id(own->definition))
      throw Error(ErrorKind::usage, own->name + " speaks " + own->definition + ", not " + options.meter, "--own",
                  "leave --meter out");
  }
  MeterDefinition meter_definition = choices.meter(options.meter);
  if (!own) own = own_meter_by_serial(earlier ? earlier->header.meter_serial : options.meter_serial, meter_definition.id);
  if (!own && choices.asked() && !simulated) own = ask_for_own_meter(choices, meter_definition.id);
  std::optional<ScannerMap> scanner;
  if (is_scanner(options.hands)) {
    scanner = load_scanner_map(options.hands.substr(8), profile);
    // The relays open when the work ends, also where the meter is the scanner.
    if (scanner->port.empty()) meter_definition.stop_commands.insert(meter_definition.stop_commands.begin(), scanner->open_all);
  }
  options.port = choices.port(options.port);
  if (!earlier && choices.asked()) {
    options.part = choices.text("part", "Part", options.part);
    options.serial = choices.text("serial", "Serial number or tag", options.serial);
  }
  if (options.operator_name.empty() && !simulated)
    options.operator_name = choices.text("operator", "Operator", options.operator_name);
  if (choices.asked()) choices.remember();
  require_acknowledgements(options);

  Loop loop;
  const SystemClock clock;
  EventStream events;
  std::unique_ptr<Meter> meter;
  QualifySession* session_ptr = nullptr;
  std::vector<LinkChange> before_session;
  MeterCallbacks callbacks;
  callbacks.reading = [&](const Reading& reading) {
    if (session_ptr) session_ptr->on_reading(reading);
  };
  callbacks.link = [&](const LinkChange& change) {
    session_ptr ? session_ptr->on_link(change) : before_session.push_back(change);
  };
  meter = open_meter(loop, clock, meter_definition, options.port, callbacks);

  const std::string stated = earlier ? earlier->header.meter_serial : options.meter_serial;
  OwnMatch who{own, own ? own->serial : stated, {}};
  if (!simulated)
    who = match_own_meter(load_own_meters(own_meters_file()), own, stated,
                          identity_of(loop, *meter, meter_definition, before_session), meter_definition.id);
  if (who.own && !own) say("the meter is " + who.own->name + " of the ledger, by its serial number " + who.serial);
  own = who.own;
  if (own) meter_definition = with_corrections(meter_definition, *own);
  const OwnMeter calibrated =
      own ? *own : OwnMeter{"", meter_definition.id, who.serial, who.remarks.empty() ? options.meter_calibrated : "", "", "", {}};

  RecordHeader header;
  if (earlier) {
    header = earlier->header;
  } else {
    header.kind = record_kind(options);
    header.started = SystemClock{}.now().wall;
    header.tool_version = SWITCHWRIGHT_VERSION;
    header.operator_name = options.operator_name;
    header.part = options.part;
    header.serial = options.serial;
    header.profile_id = profile.id;
    header.profile_title = profile.title;
    header.profile_values = profile.values;
    header.profile_text = profile.source_text;
    header.meter_id = meter_definition.id;
    header.meter_title = meter_definition.title;
    header.meter_text = meter_definition.source_text;
    header.meter_serial = own ? own->serial : who.serial;
    header.meter_calibrated = own ? calibration_words(*own, header.started) : calibrated.calibrated;
    header.port = options.port;
    header.rule = options.rule;
    header.plan = options.plan == "full" ? "" : options.plan;
    header.simulated = simulated;
    header.hands = simulated ? "simulator" : scanner ? "scanner" : "person";
  }

  std::function<void()> when_entered;  // what a person at the scanner's fixture was asked for is done
  const AskPerson ask = [&](const std::string& words, std::function<void()> done) {
    when_entered = std::move(done);
    events.emit(Note{"by-hand", words}, clock.now());
  };
  const auto hands =
      scanner ? scanner_hands(loop, clock, *scanner, profile, meter.get(), ask) : make_hands(loop, options.hands);
  if (!earlier) header.id = store.begin(header);

  SessionSettings settings = session_settings(options);
  settings.meter_remarks = who.remarks;
  if (own || !simulated)
    for (std::string& remark : calibration_remarks(calibrated, clock.now().wall)) settings.meter_remarks.push_back(std::move(remark));
  if (scanner) settings.cost = load_route_cost("scanner", profile_places());
  QualifySession session{profile, meter_definition, settings, header, clock, *hands,
                         [&](Quantity quantity) { meter->select(quantity); }, events};
  session_ptr = &session;
  Recorder recorder{store, header.id, events};
  const bool screen = !options.json && options.hands == "person" && interactive();
  const auto view = options.json ? make_json_view() : screen ? make_screen_view(session) : make_line_view();
  bool reader_gone = false;
  events.subscribe([&](const Event& event, Instant at) {
    if (reader_gone) return;
    try {
      view->on(event, at);
    } catch (const ClosedPipe&) {
      reader_gone = true;  // nobody reads, but what is measured is still kept
      loop.post([&] { session.stop(); });
    }
  });
  events.subscribe([&](const Event&, Instant) {
    if (session.ended()) loop.post([&] { loop.stop(); });
  });

  std::optional<Keyboard> keyboard;
  if (options.hands == "person")
    keyboard.emplace(loop, [&](char c) { screen ? view->key(c) : (c == '\n' ? session.confirm() : void()); },
                     [&] { session.stop(); });
  if (scanner)
    keyboard.emplace(loop,
                     [&](char c) {
                       if (c == '\n' && when_entered) std::exchange(when_entered, nullptr)();
                     },
                     [&] { session.stop(); });
  const Interrupt interrupt{loop, [&] { session.stop(); }};
  Loop::Timer tick;
  std::function<void()> ticking = [&] {
    session.on_tick();
    tick = loop.after(std::chrono::milliseconds{100}, ticking);
  };
  ticking();

  if (earlier) session.resume(*earlier);
  loop.post([&] {
    for (const LinkChange& change : before_session) session.on_link(change);
    session.start();
  });
  try {
    loop.run();
  } catch (...) {
    recorder.close();  // whatever went wrong, what was measured is kept
    throw;
  }
  keyboard.reset();
  meter->stop();
  recorder.close();

  if (!options.json) say("record " + header.id + " in " + store.path().string());
  if (!options.report.empty()) {
    write_file_durably(options.report, make_exporter(format_for(options.report))->render(store.load(header.id, true)));
    if (!options.json) say("report written to " + options.report);
  }
  if (session.verdict()) return exit_code(session.verdict()->outcome);
  if (session.stopped_kind() == "operator") {
    if (!options.json) say("go on later with: " + resume_words(header.id, options));
    return 130;
  }
  throw Error(ErrorKind::meter, session.stopped_text(), options.port,
              "what was measured is kept; go on with: " + resume_words(header.id, options));
}

}  // namespace switchwright::cli
