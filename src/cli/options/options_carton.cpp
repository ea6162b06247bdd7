// A simulated carton, and what lies beside it on the bench.
#include <CLI/CLI.hpp>

#include "cli/options/option_values.hpp"
#include "cli/options/options.hpp"
#include "cli/options/options_power.hpp"

namespace switchwright::cli {

void describe_simulated_carton(CLI::App& simulate, SimulateOptions& o) {
  const char* group = "A carton (the hands put one unit after another on the bench)";
  add_count(simulate, "--lot", o.lot, 1, 500'000, "unit", "units in the carton; the seed deals them")->group(group);
  simulate
      .add_option("--lot-fault", o.lot_faults,
                  "so many units have this fault: stuck-closed:cycling=2%, resistive:line=5=1%; may be repeated")
      ->type_name("FAULT=SHARE")
      ->allow_extra_args(false)
      ->group(group);
  simulate
      .add_option("--lot-version", o.lot_versions,
                  "so many units are another part: regulator-shunt-208=5%; may be repeated")
      ->type_name("PROFILE=SHARE")
      ->allow_extra_args(false)
      ->group(group);
  add_amount(simulate, "--lot-spread", o.lot_spread_pct, Amount::percent, {0.0, 50.0},
             "standard deviation of elements and of contact resistances from unit to unit")
      ->type_name("PERCENT")
      ->group(group);
  simulate.add_option("--same-label", o.same_labels, "unit 7 bears the serial number of unit 3: 7=3; may be repeated")
      ->type_name("UNIT=UNIT")
      ->allow_extra_args(false)
      ->group(group);
  simulate
      .add_option("--reference", o.references,
                  "a resistor beside the part, for the bench check: R100=100; may be repeated")
      ->type_name("NAME=OHM")
      ->allow_extra_args(false)
      ->group(group);
}

}  // namespace switchwright::cli
