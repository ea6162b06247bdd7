// What can be wrong around the simulated part when it lies on the bench without power.
#include <CLI/CLI.hpp>

#include "cli/options/option_values.hpp"
#include "cli/options/options.hpp"
#include "cli/options/options_power.hpp"

namespace switchwright::cli {

void describe_simulated_probes(CLI::App& simulate, SimulateOptions& o) {
  const char* group = "Leads and probes";
  const auto in_group = [&](CLI::Option* option) { return option->group(group); };
  const auto ohms = [&](const char* name, auto& target, double least, const char* help) {
    add_amount(simulate, name, target, Amount::ohms, {least, 1e6}, help)->group(group)->type_name("OHM");
  };
  ohms("--leads", o.leads_ohm, 0.0, "resistance of the two leads together; default: 0.12");
  ohms("--shorted", o.shorted_ohm, 0.0, "what the tips add when they are held together badly");
  ohms("--offset", o.offset_ohm, -1e6, "zero error of the meter on ohms; may be negative");
  in_group(
      simulate.add_option("--volts", o.volts,
                          "a source of its own between two terminals: A1-A2=24ac, L1-CASE=-0.05dc; may be repeated"))
      ->type_name("PAIR=VOLTS");
  in_group(simulate.add_option("--fingers", o.fingers,
                               "at this position the probes miss the part, with skin between the tips: off=5e6; may be "
                               "repeated"))
      ->type_name("POSITION=OHM");
  in_group(simulate.add_option("--closing", o.closings,
                               "what a contact has at its first closing, its second, ..., over and over: "
                               "line=0.01,0.01,1.5; may be repeated"))
      ->type_name("CONTACT=OHM,OHM");
}

}  // namespace switchwright::cli
