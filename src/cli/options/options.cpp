// The one option table: parsing, short and long help all come from here.
#include "cli/options/options.hpp"

#include <CLI/CLI.hpp>
#include <cstdio>
#include <sstream>

#include "cli/options/completions.hpp"
#include "cli/options/option_tables.hpp"
#include "cli/options/option_values.hpp"
#include "cli/options/options_lot.hpp"
#include "cli/options/options_power.hpp"
#include "cli/options/options_practice.hpp"
#include "cli/options/options_trace.hpp"
#include "cli/output.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/core/words.hpp"

namespace switchwright::cli {

void describe_profiles(CLI::App& app, ProfilesOptions& options, std::optional<Command>& chosen);
void describe_serve(CLI::App& app, std::optional<Command>& chosen);

namespace {

constexpr const char* port_help =
    "device path, tcp:HOST:PORT, rfc2217:HOST:PORT, hid:PATH, usbtmc:PATH, or replay:FILE";

template <class Options>
CLI::App* add(CLI::App& app, const char* name, const char* what, Options& options, std::optional<Command>& chosen) {
  CLI::App* command = app.add_subcommand(name, what);
  command->callback([&options, &chosen] {
    if (!chosen) chosen = options;  // a command below this one has spoken already
  });
  return command;
}

void add_store(CLI::App* command, std::string& store) {
  command->add_option("--store", store, "record store (or SWITCHWRIGHT_STORE)")->type_name("PATH");
}

struct Table {
  PortsOptions ports;
  ReadOptions read;
  ProfilesOptions profiles;
  QualifyOptions qualify;
  SimulateOptions simulate;
  DoctorOptions doctor;
  PracticeTable practice;
};

void describe_looking(CLI::App& app, Table& t, std::optional<Command>& chosen) {
  auto* ports = add(app, "ports", "serial ports, and what is plugged into them", t.ports, chosen);
  ports->add_flag("--json", t.ports.json, "JSON Lines");

  describe_meters(app, chosen);

  describe_profiles(app, t.profiles, chosen);
}

void describe_reading(CLI::App& app, Table& t, std::optional<Command>& chosen) {
  auto* read = add(app, "read", "show what the meter says", t.read, chosen);
  read->add_option("--meter", t.read.meter, "meter definition")->type_name("ID");
  read->add_option("--port", t.read.port, port_help)->type_name("PORT");
  read->add_option("--quantity", t.read.quantity, "for meters that the tool can set: resistance, voltage-ac, ...")
      ->check(one_of(quantity_names()))
      ->type_name("QUANTITY");
  add_count(*read, "--count", t.read.count, 1, 1'000'000'000, "reading", "stop after so many readings");
  add_time(*read, "--for", t.read.for_s, run_range, "stop after this time");
  read->add_option("--capture", t.read.capture, "also write every byte to a capture file")->type_name("FILE");
  read->add_flag("--fast", t.read.fast, "play a replay: file as fast as it goes");
  auto* json = read->add_flag("--json", t.read.json, "JSON Lines");
  read->add_flag("--csv", t.read.csv, "comma-separated values")->excludes(json);
}

void describe_qualify(CLI::App& app, Table& t, std::optional<Command>& chosen) {
  auto& q = t.qualify;
  auto* qualify = add(app, "qualify", "lead through every pair at every position and give a verdict", q, chosen);
  qualify->add_option("--profile", q.profile, "what the part should be")->type_name("ID");
  qualify->add_option("--meter", q.meter, "how the meter talks")->type_name("ID");
  qualify->add_option("--port", q.port, port_help)->type_name("PORT");
  qualify->add_option("--part", q.part, "part number or name")->type_name("TEXT");
  qualify->add_option("--serial", q.serial, "serial number or tag of this piece")->type_name("TEXT");
  qualify->add_option("--operator", q.operator_name, "who does the work")->type_name("TEXT");
  qualify->add_option("--own", q.own, "one of the shop's own meters, with its calibration (switchwright meters own)")
      ->type_name("NAME");
  qualify->add_option("--meter-serial", q.meter_serial, "serial number of the meter")->type_name("TEXT");
  qualify->add_option("--meter-calibrated", q.meter_calibrated, "date of the meter's last calibration")
      ->check(past_date());
  qualify
      ->add_option("--hands", q.hands,
                   "who moves probes and knob: person, scanner:FILE.toml (a person turns the knob), or sim:SOCKET")
      ->capture_default_str();
  qualify
      ->add_option(
          "--acknowledge", q.acknowledge,
          "state without being asked: de-energised, energised, locked-off (with --wired); no-dc-voltage, no-ac-voltage "
          "(found with another instrument, where this meter has no such function); may be repeated")
      ->check(one_of({"de-energised", "energised", "locked-off", "no-dc-voltage", "no-ac-voltage"}));
  auto* powered =
      qualify->add_option("--powered", q.powered,
                          "read the voltages under power too, once the part has passed without; \"only\": nothing "
                          "but the voltages of a part that has a passing record without power");
  powered->expected(0, 1)->type_name("[only]")->check(one_of({"", "only"}));
  qualify->callback([&q, &chosen, powered] {
    if (powered->count() > 0 && q.powered != "only") q.powered = "after";
    chosen = q;
  });
  qualify
      ->add_option("--cold", q.cold,
                   "with --powered only: the record of this part (same serial number) that passed without power; "
                   "default: that of this sitting")
      ->type_name("RECORD");
  qualify
      ->add_option("--wired", q.wired,
                   "the part stays wired to its load, isolated and locked off: 2800W@240, 20.6ohm, or per output "
                   "H1-H2=2800W@240; may be repeated. Says what cannot be seen without pulling connectors")
      ->type_name("LOAD")
      ->allow_extra_args(false);
  qualify->add_flag("--live-moves", q.live_moves,
                    "under power move the probes with the supply on; default: it is switched off for each move");
  qualify->add_option("--inspected", q.inspected, "answer all visual questions: yes or no")
      ->check(one_of({"yes", "no"}));
  qualify
      ->add_option(
          "--range", q.range,
          "on ohms, of a meter that does not show its range: auto, or the full scale it is set to (40Mohm); kept "
          "as stated")
      ->type_name("auto|OHM");
  add_amount(*qualify, "--ambient", q.ambient_c, Amount::celsius, {-60.0, 100.0},
             "air around the meter in degrees Celsius: outside its range U grows")
      ->type_name("DEGREES");
  add_stated(*qualify, q.stated);
  add_require(qualify, q.require);
  qualify->add_option("--rule", q.rule, "decision rule: guarded (guard band U on both sides) or simple")
      ->check(one_of({"guarded", "simple"}))
      ->capture_default_str();
  qualify
      ->add_option("--plan", q.plan,
                   "full (every pair at every position), short (the fewest readings that detect every single fault), "
                   "or adaptive (the most telling reading next, until the verdict is beyond doubt); default: full")
      ->check(one_of({"full", "short", "adaptive"}));
  add_time(*qualify, "--settle", q.settle_s, settle_range, "a reading has settled when it agrees for this long")
      ->default_str("0.6s");
  add_time(*qualify, "--patience", q.patience_s, patience_range,
           "hands other than a person: give up when nothing settles for this long")
      ->default_str("30s");
  qualify->add_option("--resume", q.resume, "go on with an unfinished record: its id, or latest")->type_name("RECORD");
  qualify->add_option("--report", q.report, "write a report at the end (.html, .txt, .json, .csv)")->type_name("FILE");
  add_claim(*qualify, q.claim);
  add_store(qualify, q.store);
  qualify->add_flag("--json", q.json, "JSON Lines: every event, the verdict last");
}

void describe_machine(CLI::App& app, Table& t, std::string& form, std::optional<Command>& chosen) {
  auto* doctor =
      add(app, "doctor", "is this machine fit for the bench? what is wrong, and how to mend it", t.doctor, chosen);
  add_store(doctor, t.doctor.store);
  doctor->add_flag("--json", t.doctor.json, "JSON Lines");
  auto* forms = app.add_subcommand("completions", "print the completions for a shell, or the manual page");
  forms->add_option("FORM", form, "bash, zsh, fish or man")->required()->check(one_of({"bash", "zsh", "fish", "man"}));
}

void describe_simulate(CLI::App& app, Table& t, std::optional<Command>& chosen) {
  auto* simulate = add(app, "simulate", "a simulated switch and meter on a real link", t.simulate, chosen);
  simulate->add_option("--profile", t.simulate.profile, "the switch")->type_name("ID")->required();
  simulate->add_option("--meter", t.simulate.meter, "the meter")->type_name("ID")->required();
  simulate->add_option(
      "--fault", t.simulate.faults,
      "KIND:ID[=VALUE]: stuck-closed, stuck-open, resistive (ohm), open, shorted, drifted (percent), "
      "swapped:A,B, clocked=STEPS, bridged:A,B, tied:CONTACT,CONTACT, profile:ID (another part); may be "
      "repeated; \"A + B\" as a diagnosis names two");
  simulate
      ->add_option("--wired", t.simulate.wired,
                   "the part is still wired, as in qualify --wired; any pair may have a path of its own (L1-L2=30ohm)")
      ->type_name("LOAD")
      ->allow_extra_args(false);
  simulate->add_option("--link", t.simulate.link, "pty or tcp")->check(one_of({"pty", "tcp"}))->capture_default_str();
  add_amount(*simulate, "--rate", t.simulate.rate_hz, Amount::hertz, {0.01, 1000.0},
             "readings per second; default: as the definition says")
      ->type_name("RATE");
  add_count(*simulate, "--seed", t.simulate.seed, 0, std::numeric_limits<unsigned long>::max(), "",
            "the same seed gives the same noise")
      ->default_str("1");
  describe_simulated_power(*simulate, t.simulate);
  describe_simulated_probes(*simulate, t.simulate);
  describe_simulated_carton(*simulate, t.simulate);
  simulate->footer(
      "The first line on standard output is JSON: the meter's port, and the socket of the hands. The hands socket (a Unix stream\n"
      "socket) takes one JSON object per line and answers each with one line; what a line leaves out stays as it is:\n"
      "  -> {\"id\":7,\"probes\":\"pair\",\"pair\":[\"L1\",\"H1\"],\"position\":\"low\",\"dial\":\"resistance\"}\n"
      "  <- {\"id\":7,\"done\":true}    or    {\"id\":7,\"done\":false,\"reason\":\"no terminal is called \\\"H9\\\"\"}\n"
      "  id        any JSON value; comes back in the answer\n"
      "  probes    off, shorted (tips together), pair (on the pair), known-source (on a live source)\n"
      "  pair      two terminals\n"
      "  position  where the knob stands\n"
      "  dial      the meter's function: resistance, voltage-ac, voltage-dc, ...\n"
      "  power     on or off: the supply\n"
      "  unit      a unit of the carton (--lot) goes to the bench; the answer has its label\n"
      "  meter     the name of a further meter (--meter-at), whose probes and dial are meant\n"
      "More with an example: src/hands/README.md.");
}

/// The command that was reached last: "meters own add".
const CLI::App& innermost(const CLI::App& app, std::string& path) {
  const CLI::App* here = &app;
  for (auto below = here->get_subcommands(); !below.empty(); below = here->get_subcommands()) {
    here = below.front();
    path += (path.empty() ? "" : " ") + here->get_name();
  }
  return *here;
}

std::vector<std::string> option_names(const CLI::App& command) {
  std::vector<std::string> names;
  for (const CLI::Option* option : command.get_options())
    for (const std::string& name : option->get_lnames()) names.push_back("--" + name);
  return names;
}

std::vector<std::string> command_names(const CLI::App& command) {
  std::vector<std::string> names;
  for (const CLI::App* below : command.get_subcommands({})) names.push_back(below->get_name());
  return names;
}

/// What to say of the first word that nobody knows, with what may have been meant; empty where every word is known.
std::string stranger_words(const CLI::App& app) {
  std::string path;
  const CLI::App& command = innermost(app, path);
  std::vector<std::string> strangers = command.remaining();
  if (strangers.empty()) strangers = app.remaining(true);
  if (strangers.empty()) return {};
  const auto dashed =
      std::find_if(strangers.begin(), strangers.end(), [](const std::string& s) { return s.starts_with("-"); });
  const bool is_option = dashed != strangers.end();
  const std::string word = is_option ? dashed->substr(0, dashed->find('=')) : strangers.front();
  const std::vector<std::string> known = is_option ? option_names(command) : command_names(command);
  std::string text = "\"" + terminal_safe(word) + "\" is not " + (is_option ? "an option" : "a command");
  if (!path.empty()) text += (is_option ? " of " : " below ") + path;
  if (!is_option && known.empty()) text = "\"" + terminal_safe(word) + "\" is one word more than " + path + " takes";
  const auto near = near_names(word, known);
  if (!near.empty()) return text + "; did you mean \"" + near.front() + "\"?";
  const std::string hint = is_option ? std::string{} : suggestion(word, known);
  return hint.empty() ? text : text + "; " + hint;
}

}  // namespace

std::optional<Invocation> parse(int argc, const char* const* argv, int& exit_code) {
  CLI::App app{
      "switchwright proves a switch good or bad: it listens to a multimeter, leads you through the terminal pairs at\n"
      "every knob position, judges each reading with its uncertainty, and keeps the proof.\n\n"
      "Mains voltage kills. Resistance is measured only on a part that is disconnected and proven dead; local codes and\n"
      "licensed practice come first."};
  app.name("switchwright");
  app.require_subcommand(1);
  app.set_version_flag("--version", "switchwright " SWITCHWRIGHT_VERSION);
  Invocation invocation;
  app.add_option("--log", invocation.log_level,
                 "what is logged to stderr: info for links and their settings; debug also for bytes sent and "
                 "received and frames rejected")
      ->check(one_of({"off", "error", "warn", "info", "debug"}))
      ->capture_default_str();
  app.footer(
      "Exit codes: 0 done or pass; 1 fail; 2 usage or bad input file; 3 undecided; 4 meter or link;\n"
      "5 store, bag or signature; 6 output that cannot be written; 7 an unexpected error;\n"
      "130 interrupted (what was measured is kept).");

  Table table;
  std::optional<Command> chosen;
  describe_qualify(app, table, chosen);
  describe_reading(app, table, chosen);
  describe_looking(app, table, chosen);
  describe_tracing(app, chosen);
  describe_keeping(app, chosen);
  describe_simulate(app, table, chosen);
  describe_practice(app, table.practice, chosen);
  describe_lot(app, chosen);
  describe_serve(app, chosen);
  std::string form;
  describe_machine(app, table, form, chosen);

  try {
    app.parse(argc, argv);
    if (!form.empty()) {
      put(in_other_form(app, form));
      exit_code = 0;
      return std::nullopt;
    }
  } catch (const CLI::Success& asked) {  // for help or the version
    std::ostringstream words;
    exit_code = app.exit(asked, words, words);
    put(words.str());
    return std::nullopt;
  } catch (const CLI::ParseError& error) {
    const std::string stranger = stranger_words(app);
    std::fprintf(stderr, "switchwright: %s\nRun with --help for the options.\n",
                 stranger.empty() ? terminal_safe(error.what()).c_str() : stranger.c_str());
    exit_code = 2;
    return std::nullopt;
  }
  invocation.command = *chosen;
  return invocation;
}

}  // namespace switchwright::cli
