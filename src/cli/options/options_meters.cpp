// Options of `meters` and what stands below it: find, check, own.
#include <memory>

#include "cli/options/option_tables.hpp"
#include "cli/options/option_values.hpp"

namespace switchwright::cli {

namespace {

template <class Options>
CLI::App* command(CLI::App& parent, const char* name, const char* what, std::shared_ptr<Options> options,
                  std::optional<Command>& chosen) {
  CLI::App* made = parent.add_subcommand(name, what);
  made->callback([made, options, &chosen] {
    if (made->get_subcommands().empty()) chosen = *options;
  });
  return made;
}

void describe_find(CLI::App& meters, std::optional<Command>& chosen) {
  const auto o = std::make_shared<MetersFindOptions>();
  auto* find = command(meters, "find", "which definition decodes what is plugged in; only listens unless told to ask",
                       o, chosen);
  find->add_option("--port", o->ports,
                   "look here only: a device path, tcp:HOST:PORT or rfc2217:HOST:PORT; may be repeated")
      ->type_name("PORT");
  find->add_flag(
      "--ask", o->ask,
      "also write to the ports named with --port (*IDN?, poll characters): to another machine this may be an order");
  add_time(*find, "--listen", o->listen_s, {0.1, 60.0}, "how long to listen at each line setting")->default_str("2.5s");
  find->add_flag("--json", o->json, "JSON Lines");
}

void describe_own(CLI::App& meters, std::optional<Command>& chosen) {
  const auto all = std::make_shared<MetersOwnOptions>();
  auto* own = command(meters, "own", "the shop's own meters: serial numbers, calibration, corrections", all, chosen);
  own->require_subcommand(0, 1);
  own->add_flag("--json", all->json, "JSON Lines");
  auto* list = command(*own, "list", "all of them, with the state of their calibration", all, chosen);
  list->add_flag("--json", all->json, "JSON Lines");

  const auto one = std::make_shared<MetersOwnOptions>();
  one->action = MetersOwnOptions::Action::show;
  auto* show = command(*own, "show", "one in full", one, chosen);
  show->add_option("NAME", one->name, "its name or serial number")->required();
  show->add_flag("--json", one->json, "JSON Lines");

  const auto o = std::make_shared<MetersOwnOptions>();
  o->action = MetersOwnOptions::Action::add;
  auto* fresh = command(*own, "add", "enter one, or replace it", o, chosen);
  fresh->add_option("NAME", o->name, "what the bench calls it")->required();
  fresh->add_option("--meter", o->meter, "its meter definition")->type_name("ID")->required();
  fresh->add_option("--serial", o->serial, "serial number")->type_name("TEXT");
  fresh->add_option("--calibrated", o->calibrated, "date of the last calibration")->check(past_date());
  fresh->add_option("--due", o->due, "date the next calibration is due")->type_name("YYYY-MM-DD");
  fresh->add_option("--certificate", o->certificate, "number of the certificate")->type_name("TEXT");
  fresh
      ->add_option(
          "--correction", o->corrections,
          "\"QUANTITY FROM..TO ADD U UNCERTAINTY [k FACTOR]\" in SI units, as in \"resistance 0..400 +0.05 U 0.04\"; "
          "may be repeated")
      ->type_name("TEXT");
  fresh->add_flag("--replace", o->replace, "overwrite the entry of this name");

  const auto gone = std::make_shared<MetersOwnOptions>();
  gone->action = MetersOwnOptions::Action::remove;
  auto* remove = command(*own, "remove", "take one out; records that name it stay as they are", gone, chosen);
  remove->add_option("NAME", gone->name, "its name or serial number")->required();
}

}  // namespace

void describe_meters(CLI::App& app, std::optional<Command>& chosen) {
  const auto o = std::make_shared<MetersOptions>();
  auto* meters = command(app, "meters", "meter definitions; one in full; find, check, own", o, chosen);
  meters->require_subcommand(0, 1);
  meters->add_option("ID", o->id, "a definition: its name, or a path to a .toml file");
  meters->add_flag("--json", o->json, "JSON Lines");
  describe_find(*meters, chosen);
  const auto check_options = std::make_shared<MetersCheckOptions>();
  auto* check = command(*meters, "check", "every mistake of a definition file at once", check_options, chosen);
  check->add_option("FILE", check_options->files, "definition files (.toml)")->required();
  describe_own(*meters, chosen);
}

}  // namespace switchwright::cli
