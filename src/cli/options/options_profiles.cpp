// The options of `profiles`, and its two small commands that take something else than a profile.
#include <CLI/CLI.hpp>

#include "cli/options/options.hpp"

namespace switchwright::cli {

void describe_profiles(CLI::App& app, ProfilesOptions& p, std::optional<Command>& chosen) {
  auto* profiles = app.add_subcommand(
      "profiles", "part profiles; one in full, with what every pair should read, and what can be reasoned from it");
  profiles->callback([&p, &chosen] {
    if (!chosen) chosen = p;  // a command below this one has spoken already
  });
  profiles->add_option("ID", p.id, "a profile: its name, or a path to a .toml file");
  profiles->add_flag("--order", p.order,
                     "the probing order, what it costs beside the plain order, and the proven bound");
  profiles->add_option("--hands", p.hands, "whose moves are costed: person or scanner (profiles/costs/), or a path")
      ->capture_default_str();
  profiles->add_flag("--coverage", p.coverage, "which single faults are detected and isolated, and by which readings");
  profiles->add_flag("--short", p.shortest, "the fewest readings that still detect every single fault");
  profiles->add_option("--meter", p.meter, "the meter that --coverage and --short reckon with")
      ->type_name("ID")
      ->capture_default_str();
  profiles->add_option("--picture", p.picture, "write the schematic as SVG (- for standard output)")->type_name("FILE");
  profiles->add_option("--position", p.position, "the position whose state the picture shows; default: the first");
  profiles->add_flag("--powered", p.powered, "the voltages under power in place of the resistances");
  profiles->add_flag("--json", p.json, "JSON Lines");

  auto* check = profiles->add_subcommand("check", "every mistake of a profile file, and what it leaves unsaid");
  check->add_option("FILE", p.check, "the .toml file")->required();
  check->fallthrough();

  auto* match = profiles->add_subcommand("match", "which profiles of the library a record fits, best first");
  match->add_option("RECORD", p.match, "a record, the unique beginning of its id, or latest")->required();
  match->add_option("--store", p.store, "record store (or SWITCHWRIGHT_STORE)")->type_name("PATH");
  match->fallthrough();
}

}  // namespace switchwright::cli
