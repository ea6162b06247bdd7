// The guided qualification: choose, open, wire the listeners to the stream, run, report.
#include <fmt/format.h>

#include <algorithm>
#include <cstdlib>
#include <memory>
#include <optional>

#include "cli/choose/choices.hpp"
#include "cli/choose/claim.hpp"
#include "cli/choose/meter_identity.hpp"
#include "cli/choose/meter_statements.hpp"
#include "cli/choose/own_meter.hpp"
#include "cli/choose/places.hpp"
#include "cli/choose/stated.hpp"
#include "cli/guided_run.hpp"
#include "cli/options/options.hpp"
#include "cli/output.hpp"
#include "cli/run_session.hpp"
#include "cli/verdict_exit.hpp"
#include "cli/view/operator_keys.hpp"
#include "cli/view/verdict_page.hpp"
#include "cli/view/views.hpp"
#include "cli/write_report.hpp"
#include "switchwright/bench/cold_record.hpp"
#include "switchwright/bench/plan.hpp"
#include "switchwright/bench/session.hpp"
#include "switchwright/bench/stated_range.hpp"
#include "switchwright/core/amount.hpp"
#include "switchwright/core/durable_file.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/core/loop.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/core/words.hpp"
#include "switchwright/hands/scanner.hpp"
#include "switchwright/meter/meter.hpp"
#include "switchwright/meter/own.hpp"
#include "switchwright/meter/typed.hpp"
#include "switchwright/profile/wired.hpp"
#include "switchwright/report/exporter.hpp"

namespace switchwright::cli {

namespace {

bool is_scanner(const std::string& who) { return who.starts_with("scanner:"); }

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
  if (!options.wired.empty() && !acknowledges(options, "locked-off"))
    throw Error(ErrorKind::usage, "work on a part that stays wired needs its own acknowledgement", "",
                "give --acknowledge locked-off when this is true: " + locked_off_words());
  if (!options.powered.empty() && !acknowledges(options, "energised"))
    throw Error(ErrorKind::usage, "work under power needs its own acknowledgement", "",
                "give --acknowledge energised when this is true: " + energised_words());
}

bool is_qualification(RecordKind kind) { return facts_of(kind).qualifies; }

/// A resumed record goes on as it was begun.
RecordKind record_kind(const QualifyOptions& options) {
  return options.powered.empty()     ? RecordKind::qualify
         : options.powered == "only" ? RecordKind::powered
                                     : RecordKind::qualify_powered;
}

void ask_for_range_of(QualifyOptions& options, const MeterDefinition& meter) {
  if (options.range.empty() && options.hands == "person") options.range = ask_for_range(meter);
}

SessionSettings session_settings(const QualifyOptions& options) {
  SessionSettings settings;
  settings.judge.rule = decision_rule(options.rule);
  settings.settle.for_s = options.settle_s;
  settings.patience_s = options.patience_s;
  settings.plan = options.plan;
  settings.live_moves = options.live_moves;
  settings.cost = load_route_cost("person", profile_places());
  settings.knowledge = std::make_shared<const Knowledge>(load_knowledge(profile_places()));
  if (acknowledges(options, "de-energised")) settings.acknowledged_by = named_operator(options.operator_name);
  if (acknowledges(options, "energised")) settings.energised_by = named_operator(options.operator_name);
  if (!options.powered.empty())
    settings.powered = options.powered == "only" ? PoweredPart::only : PoweredPart::after_continuity;
  for (const char* what : {"no-dc-voltage", "no-ac-voltage", "locked-off"})
    if (acknowledges(options, what)) settings.absence_stated[what] = named_operator(options.operator_name);
  if (!options.range.empty()) settings.judge.range = read_stated_range(options.range);
  if (!options.inspected.empty()) settings.inspection = options.inspected == "yes";
  return settings;
}

std::optional<Record> to_resume(Store& store, const QualifyOptions& options) {
  if (options.resume.empty()) return std::nullopt;
  Record record = take_up(store, options.resume, is_qualification);
  if (record.verdict)
    throw Error(ErrorKind::usage, "record " + record.header.id + " is finished", "--resume",
                "start a new one, or see it with: switchwright report " + record.header.id);
  if (!is_qualification(record.header.kind))
    throw Error(ErrorKind::usage,
                "record " + record.header.id + " is a " + to_string(record.header.kind) + ", not a qualification",
                "--resume", "begin a new trace instead");
  return record;
}

/// Somebody who comes back to the bench is asked whether to go on where the work stopped.
std::string ask_to_resume(const Store& store) {
  const auto unfinished = resumable(store, is_qualification);
  if (unfinished.empty()) return {};
  const RecordSummary& last = unfinished.front();
  const std::string answer =
      ask_line(fmt::format("\nUnfinished: record {}, {} {} as {}. Go on with it? y or n [n]: ", last.id,
                           terminal_safe(last.part), terminal_safe(last.serial), last.profile_id));
  return answer == "y" || answer == "yes" ? last.id : std::string{};
}

/// The command that goes on with a record; a scanner's map is not in the record, and a meter's own file is not in the library.
std::string resume_words(const std::string& id, const QualifyOptions& options) {
  return "switchwright qualify --resume " + id +
         (definition_id(options.meter) != options.meter ? " --meter " + shell_word(options.meter) : "") +
         (is_scanner(options.hands) ? " --hands " + shell_word(options.hands) : "");
}

/// What is measured, with what, and what it goes on with.
struct Chosen {
  QualifyOptions options;
  std::optional<Record> earlier;
  Profile profile;
  MeterDefinition meter;
  std::optional<OwnMeter> own;
  std::optional<ScannerMap> scanner;
  std::optional<ColdProof> cold;
  std::vector<StatedResult> stated;
  ScopeParts require;
  Claim claim = {};

  bool simulated() const { return are_simulated(options.hands); }
  /// The serial number that somebody stated for the meter, now or when the record was begun.
  std::string stated_serial() const { return earlier ? earlier->header.meter_serial : options.meter_serial; }
};

/// Readings of two sittings are judged together, so by one profile, one meter, one rule and what was stated then; and they are
/// of one part.
void take_from(const RecordHeader& header, QualifyOptions& options) {
  const auto as_begun = [&](const char* option, std::string& stated, const std::string& begun) {
    require_as_begun(header, option, stated, begun);
    stated = begun;
  };
  as_begun("--part", options.part, header.part);
  as_begun("--serial", options.serial, header.serial);
  as_begun("--range", options.range, header.stated_range);
  as_begun("--plan", options.plan, header.plan.empty() ? "full" : header.plan);
  if (options.rule != "guarded") require_as_begun(header, "--rule", options.rule, header.rule);  // guarded: not said
  options.rule = header.rule;
  if (options.ambient_c && options.ambient_c != header.ambient_c)
    require_as_begun(header, "--ambient", fmt::format("{:g} degC", *options.ambient_c),
                     header.ambient_c ? fmt::format("{:g} degC", *header.ambient_c) : "");
  options.ambient_c = header.ambient_c;
  if (options.port.empty() && !header.simulated) options.port = header.port;
  if (options.operator_name.empty()) options.operator_name = header.operator_name;
  if (header.hands == "scanner" && options.hands == "person")
    say("this record was begun with a scanner; to go on with it give --hands scanner:FILE.toml");
  options.powered = header.kind == RecordKind::powered           ? "only"
                    : header.kind == RecordKind::qualify_powered ? "after"
                                                                 : "";
}

void choose_meter(Chosen& chosen, Choices& choices) {
  QualifyOptions& options = chosen.options;
  if (!options.own.empty()) {
    chosen.own = own_meter(options.own);
    if (chosen.earlier)
      require_as_begun(chosen.earlier->header, "--own", chosen.own->serial, chosen.earlier->header.meter_serial);
    if (options.meter.empty() && !chosen.earlier) options.meter = chosen.own->definition;
    const std::string definition = options.meter.empty() ? chosen.earlier->header.meter_id : options.meter;
    if (definition_id(definition) != definition_id(chosen.own->definition))
      throw Error(ErrorKind::usage, chosen.own->name + " speaks " + chosen.own->definition + ", not " + definition,
                  "--own", "leave --meter out");
  }
  chosen.meter = chosen.earlier ? meter_to_go_on_with(*chosen.earlier, options.meter) : choices.meter(options.meter);
  if (!chosen.own) chosen.own = own_meter_by_serial(chosen.stated_serial(), chosen.meter.id);
  if (!chosen.own && !chosen.earlier && choices.asked() && !chosen.simulated())
    chosen.own = ask_for_own_meter(choices, chosen.meter.id);
  if (!is_scanner(options.hands)) return;
  chosen.scanner = load_scanner_map(options.hands.substr(8), chosen.profile);
  // The relays open when the work ends, also where the meter is the scanner.
  if (chosen.scanner->port.empty())
    chosen.meter.stop_commands.insert(chosen.meter.stop_commands.begin(), chosen.scanner->open_all);
}

/// The part as it is wired; a record that is gone on with says how it was.
void stay_wired(Chosen& chosen) {
  QualifyOptions& options = chosen.options;
  if (chosen.earlier) {
    if (!options.wired.empty())
      throw Error(ErrorKind::usage, "how the part is wired was said when the record was begun", "--wired",
                  "leave it away");
    return;
  }
  if (options.wired.empty()) return;
  if (!options.powered.empty())
    throw Error(ErrorKind::usage, "a part that stays wired is not energised on the word of this record", "--wired",
                "leave --powered away; pull the connectors and measure the part on the bench first");
  std::vector<WiredLoad> loads;
  for (const std::string& text : options.wired) loads.push_back(parse_wired_load(text, chosen.profile));
  chosen.profile = wired_profile(chosen.profile, loads);
}

/// Everything that is said by options, remembered, or answered by the person, before anything is opened.
/// @param next_part another piece after one that was just qualified: what it is called is asked for again.
Chosen choose(const QualifyOptions& given, Store& store, bool next_part) {
  Chosen chosen{given, {}, {}, {}, {}, {}, {}, {}, {}, {}};
  QualifyOptions& options = chosen.options;
  if (options.resume.empty() && options.profile.empty() && interactive() && !next_part)
    options.resume = ask_to_resume(store);
  chosen.earlier = to_resume(store, options);
  if (chosen.earlier) take_from(chosen.earlier->header, options);

  Choices choices;
  chosen.profile =
      chosen.earlier ? profile_to_go_on_with(*chosen.earlier, given.profile) : choices.profile(options.profile);
  if (!options.powered.empty() && !chosen.profile.powered)
    throw Error(ErrorKind::usage, "the profile " + chosen.profile.id + " says nothing about power", "--powered",
                "leave --powered away, or add a [powered] part with the supply and the load to the profile");
  stay_wired(chosen);
  if (!options.require.empty()) chosen.require = parse_scope_parts(options.require);
  for (const std::string& text : options.stated) chosen.stated.push_back(parse_stated(text, chosen.profile));
  choose_meter(chosen, choices);
  if (!chosen.earlier) ask_for_range_of(options, chosen.meter);
  (void)meter_statements(options.range, options.ambient_c,
                         chosen.meter);  // a range that cannot be is refused before anything is begun
  if (is_typed(chosen.meter.id)) {
    if (options.hands != "person" || options.json)
      throw Error(ErrorKind::usage, "readings are typed by a person at a terminal", "--meter " + chosen.meter.id,
                  "leave --hands and --json away");
    options.port = typed_word;
  }
  options.port = choices.port(options.port);
  if (!chosen.earlier && (choices.asked() || next_part)) {
    options.part = choices.text("part", "Part", options.part);
    options.serial = choices.text("serial", "Serial number or tag", options.serial);
  }
  if (!chosen.earlier) chosen.claim = chosen_claim(options.claim);
  if (options.operator_name.empty() && !chosen.simulated())
    options.operator_name = named_operator(choices.text("operator", "Operator", options.operator_name));
  if (choices.asked() && options.powered != "only") ask_for_stated(chosen.profile, chosen.earlier, chosen.stated);
  if (choices.asked()) choices.remember();
  require_acknowledgements(options);
  if (!options.cold.empty() && options.powered != "only")
    throw Error(ErrorKind::usage, "--cold names the record of a part whose voltages alone are read", "--cold",
                "give --powered only with it, or leave it away: --powered measures without power first");
  if (options.powered == "only") {
    const std::string named = options.cold.empty() && chosen.earlier ? cold_record_of(*chosen.earlier) : options.cold;
    const std::string serial = chosen.earlier ? chosen.earlier->header.serial : options.serial;
    chosen.cold = cold_proof(store, named, {chosen.profile, serial, chosen.simulated()}, SystemClock{}.now().wall);
  }
  return chosen;
}

RecordHeader new_header(const Chosen& chosen, const OwnMeter& calibrated) {
  const QualifyOptions& options = chosen.options;
  RecordHeader header = header_for(record_kind(options), chosen.profile, chosen.meter, options.port, options.hands);
  header.operator_name = options.operator_name;
  header.claim = chosen.claim;
  header.part = options.part;
  header.serial = options.serial;
  header.meter_serial = calibrated.serial;
  header.meter_calibrated = chosen.own ? calibration_words(*chosen.own, header.started) : calibrated.calibrated;
  header.rule = options.rule;
  header.plan = options.plan == "full" ? "" : options.plan;
  header.stated_range = options.range;
  header.ambient_c = options.ambient_c;
  header.require = chosen.require;
  if (chosen.scanner) header.hands = "scanner";
  return header;
}

/// The last lines and the exit code.
int conclude(const QualifySession& session, const QualifyOptions& options, const Store& store,
             const std::string& record_id) {
  if (!options.json) {
    say("record " + record_id + " in " + store.path().string());
    if (!options.report.empty()) say("report written to " + options.report);
  }
  if (session.verdict()) return exit_code(session.verdict()->outcome);
  if (session.stopped_kind() == "operator") {
    if (!options.json) say("go on later with: " + resume_words(record_id, options));
    return 130;
  }
  throw Error(ErrorKind::meter, session.stopped_text(), options.port,
              "what was measured is kept; go on with: " + resume_words(record_id, options));
}

/// The verdict fills the screen. @returns whether the person has another part.
bool another_part_after(const VerdictReached& reached, const RecordHeader& header, const QualifyOptions& options) {
  VerdictScreen screen;
  screen.reached = reached;
  screen.head = fmt::format("{} {}   {}   record {}", terminal_safe(header.part), terminal_safe(header.serial),
                            header.profile_id, header.id);
  screen.next_command = options.report.empty() ? "switchwright report " + header.id + " -o report.html"
                                               : "switchwright bag " + header.id + " -o evidence";
  // A report file that was named is of one part; a second part would take its place.
  screen.next_part_offered = options.report.empty();
  return show_verdict(screen);
}

struct Qualified {
  int code = 0;
  bool another = false;
  QualifyOptions chosen;  ///< as completed by answers and by the record that was gone on with
};

/// The same bench for another piece: nothing that somebody stated about the one before is carried over.
QualifyOptions for_next_part(QualifyOptions options) {
  options.serial.clear();
  options.acknowledge.clear();
  options.inspected.clear();
  options.stated.clear();
  options.resume.clear();
  options.cold.clear();
  return options;
}

/// Of several parts the worst counts: a pass after a fail is not a pass.
int worse(int a, int b) {
  const auto rank = [](int code) { return code == 0 ? 0 : code == 3 ? 1 : code == 1 ? 2 : 3; };
  return rank(a) >= rank(b) ? a : b;
}

/// One piece from the first question to its verdict.
class Qualification {
 public:
  Qualification(const QualifyOptions& given, Store& store, bool next_part)
      : store_(store), chosen_(choose(given, store, next_part)) {}
  Qualified run();

 private:
  void open();
  void recognise_meter();
  void arrange_hands();
  void begin_record();
  SessionSettings settings() const;
  std::function<void(char)> keys(View& view);
  bool person() const { return !chosen_.options.json && chosen_.options.hands == "person"; }

  Store& store_;
  Chosen chosen_;
  Loop loop_;
  const SystemClock clock_;
  EventStream events_;
  std::unique_ptr<Meter> meter_;
  std::vector<LinkChange> before_session_;
  OwnMatch who_;
  OwnMeter calibrated_;  ///< of the ledger, or as it was stated
  std::unique_ptr<Hands> hands_;
  std::function<void()> when_entered_;  ///< what a person at the scanner's fixture was asked for is done
  RecordHeader header_;
  std::unique_ptr<QualifySession> session_;
};

void Qualification::open() {
  MeterCallbacks callbacks;
  callbacks.reading = [this](const Reading& reading) {
    if (session_) session_->on_reading(reading);
  };
  callbacks.link = [this](const LinkChange& change) {
    session_ ? session_->on_link(change) : before_session_.push_back(change);
  };
  meter_ = open_meter(loop_, clock_, chosen_.meter, chosen_.options.port, callbacks);
}

/// Which of the shop's own meters it is, by what it says itself; with its corrections from then on.
void Qualification::recognise_meter() {
  who_ = {chosen_.own, chosen_.own ? chosen_.own->serial : chosen_.stated_serial(), {}};
  if (!chosen_.simulated())
    who_ = match_own_meter(load_own_meters(own_meters_file()), chosen_.own, chosen_.stated_serial(),
                           identity_of(loop_, *meter_, chosen_.meter, before_session_), chosen_.meter.id);
  if (who_.own && !chosen_.own)
    say("the meter is " + who_.own->name + " of the ledger, by its serial number " + who_.serial);
  chosen_.own = who_.own;
  if (chosen_.own) chosen_.meter = with_corrections(chosen_.meter, *chosen_.own);
  if (chosen_.options.ambient_c) chosen_.meter = at_ambient(chosen_.meter, *chosen_.options.ambient_c);
  const std::string stated_date = who_.remarks.empty() ? chosen_.options.meter_calibrated : "";
  calibrated_ = chosen_.own ? *chosen_.own : OwnMeter{"", chosen_.meter.id, who_.serial, stated_date, "", "", {}};
}

void Qualification::arrange_hands() {
  const AskPerson ask = [this](const std::string& words, std::function<void()> done) {
    when_entered_ = std::move(done);
    events_.emit(Note{"by-hand", words}, clock_.now());
  };
  hands_ = chosen_.scanner ? scanner_hands(loop_, clock_, *chosen_.scanner, chosen_.profile, meter_.get(), ask)
                           : make_hands(loop_, chosen_.options.hands);
}

void Qualification::begin_record() {
  header_ = chosen_.earlier ? chosen_.earlier->header : new_header(chosen_, calibrated_);
  if (!chosen_.earlier) header_.id = store_.begin(header_);
  // What was required once stays required; a sitting that goes on may ask for more.
  for (const ScopePart part : chosen_.require)
    if (std::find(header_.require.begin(), header_.require.end(), part) == header_.require.end())
      header_.require.push_back(part);
}

SessionSettings Qualification::settings() const {
  const QualifyOptions& options = chosen_.options;
  SessionSettings settings = session_settings(options);
  settings.cold = chosen_.cold;
  settings.stated = chosen_.stated;
  settings.meter_remarks = who_.remarks;
  const auto remark = [&](std::vector<std::string> more) {
    for (std::string& one : more) settings.meter_remarks.push_back(std::move(one));
  };
  remark(meter_statements(options.range, options.ambient_c, chosen_.meter));
  if (is_typed(chosen_.meter.id)) remark({typed_remark(chosen_.meter)});
  if (chosen_.own || !chosen_.simulated()) remark(calibration_remarks(calibrated_, clock_.now().wall));
  if (chosen_.scanner) settings.cost = load_route_cost("scanner", profile_places());
  return settings;
}

std::function<void(char)> Qualification::keys(View& view) {
  if (chosen_.scanner)
    return [this](char c) {
      if (c == '\n' && when_entered_) std::exchange(when_entered_, nullptr)();
    };
  if (person()) return [&view](char c) { view.key(c); };
  if (chosen_.options.hands == "person") return line_keys(*session_);
  return {};
}

Qualified Qualification::run() {
  const QualifyOptions& options = chosen_.options;
  open();
  recognise_meter();
  arrange_hands();
  begin_record();
  session_ = std::make_unique<QualifySession>(
      chosen_.profile, chosen_.meter, settings(), header_, clock_, *hands_,
      [this](Quantity quantity) { meter_->select(quantity); }, events_);
  const auto view = options.json ? make_json_view() : person() ? make_person_view(*session_) : make_line_view();
  std::optional<VerdictReached> reached;
  events_.subscribe([&](const Event& event, Instant) {
    if (const auto* verdict = std::get_if<VerdictReached>(&event)) reached = *verdict;
  });
  run_session(
      {loop_, store_, events_, *meter_, *session_, *view, header_.id, keys(*view), chosen_.earlier, before_session_});
  if (!options.report.empty())
    write_report_file(options.report, *make_exporter(format_for(options.report)), store_.load(header_.id, true));
  const bool another = person() && can_draw() && reached && another_part_after(*reached, header_, options);
  return {conclude(*session_, options, store_, header_.id), another, options};
}

Qualified qualify_one(const QualifyOptions& given, Store& store, bool next_part) {
  return Qualification(given, store, next_part).run();
}

}  // namespace

int run(const QualifyOptions& given) {
  if (!given.report.empty()) require_report_place(given.report);
  Store store{store_place(given.store)};
  Qualified done = qualify_one(given, store, false);
  int code = done.code;
  while (done.another) {
    done = qualify_one(for_next_part(done.chosen), store, true);
    code = worse(code, done.code);
  }
  return code;
}

}  // namespace switchwright::cli
