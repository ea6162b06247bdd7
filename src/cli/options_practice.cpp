#include "cli/options_practice.hpp"

namespace switchwright::cli {

namespace {

void describe_fit(CLI::App& app, FitOptions& options, std::optional<Command>& chosen) {
  auto* fit = app.add_subcommand("fit", "does a part suit an application: current, voltage, heater, contacts, terminals");
  fit->callback([&options, &chosen] { chosen = options; });
  fit->add_option("--profile", options.profile, "the part")->type_name("ID")->required();
  fit->add_option("--supply", options.supply_v, "volts that the equipment has")->type_name("V")->required();
  fit->add_option("--load", options.load, "POWER@VOLTAGE such as 2800W@240, or amperes such as 10A")
      ->type_name("LOAD")
      ->required();
  fit->add_option("--record", options.record, "a record of this very part: its contacts' heat is worked out")->type_name("ID");
  auto* wire = fit->add_option("--wire", options.awg, "wire gauge, for the push-on terminals")->type_name("AWG");
  auto* tab = fit->add_option("--tab", options.tab_inch, "width of the terminals' tabs, such as 0.250")->type_name("INCH");
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
  practice->add_option("--level", options.level, "easy: stuck, open or shorted; hard: resistive, drifted, swapped, ... too")
      ->check(CLI::IsMember({"easy", "hard"}))
      ->capture_default_str();
  practice->add_option("--seed", options.seed, "the same seed hides the same fault");
  practice->add_option("--learner", options.learner, "who practises; kept with the result")->type_name("TEXT");
  practice->add_flag("--led", options.led, "the tool proposes every reading");
  practice->add_option("--store", options.store, "practice store; default: practice.sqlite beside the record store")
      ->type_name("PATH");
}

}  // namespace

void describe_practice(CLI::App& app, PracticeTable& table, std::optional<Command>& chosen) {
  describe_fit(app, table.fit, chosen);
  describe_training(app, table.practice, chosen);
}

}  // namespace switchwright::cli
