#include "cli/options/options_practice.hpp"

#include "cli/options/option_tables.hpp"
#include "cli/options/option_values.hpp"
#include "switchwright/suit/quick_connect.hpp"

namespace switchwright::cli {

namespace {

void describe_fit(CLI::App& app, FitOptions& options, std::optional<Command>& chosen) {
  auto* fit =
      app.add_subcommand("fit", "does a part suit an application: current, voltage, heater, contacts, terminals");
  fit->callback([&options, &chosen] { chosen = options; });
  fit->add_option("--profile", options.profile, "the part")->type_name("ID")->required();
  add_amount(*fit, "--supply", options.supply_v, Amount::volts, {0.0, 1e5, true}, "volts that the equipment has")
      ->type_name("V")
      ->required();
  fit->add_option("--load", options.load, "POWER@VOLTAGE such as 2800W@240, amperes such as 10A, or ohms such as 21ohm")
      ->type_name("LOAD")
      ->required();
  fit->add_option("--record", options.record, "a record of this very part: its contacts' heat is worked out")
      ->type_name("ID");
  auto* wire = fit->add_option_function<std::string>(
                      "--wire", [&options](const std::string& text) { options.awg = parse_gauge(text); },
                      "wire gauge, for the push-on terminals")
                   ->type_name("AWG");
  auto* tab = add_amount(*fit, "--tab", options.tab_inch, Amount::inches, {0.02, 2.0},
                         "width of the terminals' tabs, such as 0.250 or 6.3mm")
                  ->type_name("INCH");
  wire->needs(tab);
  tab->needs(wire);
  fit->add_option("--store", options.store, "record store (or SWITCHWRIGHT_STORE)")->type_name("PATH");
  fit->add_flag("--json", options.json, "JSON Lines: one object per figure, the answer last");
}

void describe_training(CLI::App& app, PracticeOptions& options, std::optional<Command>& chosen) {
  auto* practice = app.add_subcommand("practice", "find the hidden fault of a simulated switch, for training");
  practice->callback([&options, &chosen] { chosen = options; });
  practice->add_option("--profile", options.profile, "the switch; one is chosen when left out")->type_name("ID");
  practice->add_option("--meter", options.meter, "the simulated meter")->type_name("ID")->capture_default_str();
  practice
      ->add_option("--level", options.level, "easy: stuck, open or shorted; hard: resistive, drifted, swapped, ... too")
      ->check(one_of({"easy", "hard"}))
      ->capture_default_str();
  add_count(*practice, "--seed", options.seed, 0, std::numeric_limits<unsigned long>::max(), "",
            "the same seed hides the same fault");
  practice->add_option("--learner", options.learner, "who practises; kept with the result")->type_name("TEXT");
  practice->add_flag("--led", options.led, "the tool proposes every reading");
  practice->add_option("--store", options.store, "practice store; default: practice.sqlite beside the record store")
      ->type_name("PATH");
}

void describe_learning(CLI::App& app, LearnOptions& options, std::optional<Command>& chosen) {
  auto* learn =
      app.get_subcommand("profiles")
          ->add_subcommand("learn",
                           "measure a known-good part and write the profile that explains its readings, for review");
  learn->callback([&options, &chosen] { chosen = options; });
  learn->add_option("--meter", options.meter, "how the meter talks")->type_name("ID");
  learn
      ->add_option("--port", options.port,
                   "device path, tcp:HOST:PORT, rfc2217:HOST:PORT, hid:PATH, usbtmc:PATH, or replay:FILE")
      ->type_name("PORT");
  learn->add_option("--terminals", options.terminals, "as marked on the part: L1,L2,H1,...")->delimiter(',');
  learn->add_option("--metal", options.metal, "exposed metal, such as CASE")->delimiter(',');
  learn->add_option("--positions", options.positions, "in the order of the knob: off,low,...")->delimiter(',');
  learn->add_option("-o,--output", options.output, "profile to write, ending in .toml")->type_name("FILE")->required();
  learn
      ->add_option("--resume", options.resume,
                   "go on with an unfinished record (its id, or latest), or write a finished one's profile again")
      ->type_name("RECORD");
  learn->add_option("--store", options.store, "record store (or SWITCHWRIGHT_STORE)")->type_name("PATH");
  learn->add_option("--title", options.title, "what the part is")->type_name("TEXT");
  learn->add_option("--knob", options.knob, "the word for what is moved")->type_name("TEXT")->capture_default_str();
  add_amount(*learn, "--voltage", options.voltage_v, Amount::volts, {0.0, 1e5, true}, "volts stamped on the part")
      ->type_name("V");
  add_amount(*learn, "--current", options.current_a, Amount::amperes, {0.0, 1e5, true}, "amperes stamped on the part")
      ->type_name("A");
  learn->add_option("--operator", options.operator_name, "who does the work")->type_name("TEXT");
  learn->add_option("--hands", options.hands, "who moves probes and knob: person, or sim:SOCKET")
      ->capture_default_str();
  learn->add_option("--acknowledge", options.acknowledge, "state without being asked: de-energised")
      ->check(one_of({"de-energised"}));
  add_time(*learn, "--settle", options.settle_s, settle_range, "a reading has settled when it agrees for this long")
      ->default_str("0.6s");
  add_time(*learn, "--patience", options.patience_s, patience_range,
           "hands other than a person: give up when nothing settles for this long")
      ->default_str("30s");
}

void describe_drop(CLI::App& app, DropOptions& options, std::optional<Command>& chosen) {
  auto* drop =
      app.add_subcommand("drop", "millivolt drop of closed contacts under a known current: milliohms with any meter");
  drop->callback([&options, &chosen] { chosen = options; });
  drop->add_option("--profile", options.profile, "what the part should be")->type_name("ID");
  drop->add_option("--meter", options.meter, "how the meter talks")->type_name("ID");
  drop->add_option("--port", options.port,
                   "device path, tcp:HOST:PORT, rfc2217:HOST:PORT, hid:PATH, usbtmc:PATH, or replay:FILE")
      ->type_name("PORT");
  drop->add_option(
          "--current", options.current,
          "direct current of the bench supply and its uncertainty (k = 2): 1A@0.01 or 1A@1%; 1 % when left out")
      ->type_name("AMPS[@U]");
  drop->add_option("--position", options.position, "default: where most contacts are closed")->type_name("ID");
  drop->add_flag("--reversed", options.reversed,
                 "measure each contact also with the current reversed (thermal voltages)");
  drop->add_option("--part", options.part, "part number or name")->type_name("TEXT");
  drop->add_option("--serial", options.serial, "serial number or tag of this piece")->type_name("TEXT");
  add_claim(*drop, options.claim);
  drop->add_option("--operator", options.operator_name, "who does the work")->type_name("TEXT");
  drop->add_option("--hands", options.hands, "who moves probes and knob: person, or sim:SOCKET")->capture_default_str();
  add_require(drop, options.require);
  drop->add_option("--acknowledge", options.acknowledge, "state without being asked: de-energised")
      ->check(one_of({"de-energised"}));
  add_time(*drop, "--settle", options.settle_s, settle_range, "a reading has settled when it agrees for this long")
      ->default_str("0.6s");
  add_time(*drop, "--patience", options.patience_s, patience_range,
           "hands other than a person: give up when nothing settles for this long")
      ->default_str("30s");
  drop->add_option("--resume", options.resume, "go on with an unfinished record: its id, or latest")
      ->type_name("RECORD");
  drop->add_option("--store", options.store, "record store (or SWITCHWRIGHT_STORE)")->type_name("PATH");
  drop->add_flag("--json", options.json, "JSON Lines: one object per contact, the verdict last");
}

}  // namespace

void describe_practice(CLI::App& app, PracticeTable& table, std::optional<Command>& chosen) {
  describe_fit(app, table.fit, chosen);
  describe_training(app, table.practice, chosen);
  describe_learning(app, table.learn, chosen);
  describe_drop(app, table.drop, chosen);
}

}  // namespace switchwright::cli
