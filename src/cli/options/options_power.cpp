#include "cli/options/options_power.hpp"

#include <CLI/CLI.hpp>

#include "cli/options/option_values.hpp"
#include "cli/options/options.hpp"
#include "cli/options/options_trace.hpp"

namespace switchwright::cli {

void describe_simulated_power(CLI::App& simulate, SimulateOptions& o) {
  const char* group = "Under power (the profile's [powered] part says how it is wired)";
  const auto amount = [&](const char* name, auto& target, Amount kind, AmountRange range, const char* type, const char* help) {
    return add_amount(simulate, name, target, kind, range, help)->group(group)->type_name(type);
  };
  amount("--supply", o.supply_v, Amount::volts, {0.0, 1000.0}, "V", "what the supply gives; default: the profile's voltage");
  amount("--sway", o.sway_pct, Amount::percent, {0.0, 49.0}, "PERCENT", "by how much the supply slowly rises and falls");
  amount("--sway-over", o.sway_period_s, Amount::seconds, {1.0, 1e6}, "TIME", "how long one rise and fall takes")
      ->default_str("600s");
  amount("--ripple", o.ripple_pct, Amount::percent, {0.0, 49.0}, "PERCENT",
         "by how much the supply jumps about, twice a second");
  simulate
      .add_option_function<std::string>(
          "--load", [&o](const std::string& text) { o.load_ohm = parse_load_ohm(text); },
          "what hangs on the switch in place of the profile's load: 2800W@240, or 21ohm")
      ->group(group)
      ->type_name("LOAD");
  amount("--averaging", o.averaging_s, Amount::seconds, {0.0, 60.0}, "TIME",
         "how long a meter averages; default: 0.4 of its interval");
  simulate.add_flag("--powered-on", o.powered_on, "the supply is on from the start; else the hands switch it")->group(group);
  simulate.add_option("--position", o.position, "where the knob stands at the start")->type_name("ID")->group(group);
  simulate
      .add_option("--meter-at", o.meters_at,
                  "a further meter, on AC volts, clipped to a pair: NAME=METER@PAIR (load=scpi@H1-H2); may be repeated")
      ->type_name("NAME=METER@PAIR")
      ->group(group);
  amount("--ambient", o.ambient_c, Amount::celsius, {-60.0, 200.0}, "DEGREES", "air around the switch, degrees Celsius");
  amount("--compensation", o.ambient_compensation, Amount::share, {0.0, 1.0}, "SHARE",
         "share of an ambient change that the second bimetal takes out, 0 to 1")
      ->default_str("0.9");
  amount("--time-constant", o.time_constant_s, Amount::seconds, {1e-3, 1e5}, "TIME", "of bimetal and heater");
  add_count(simulate, "--welds-at", o.welds_at, 1, 1'000'000'000, "opening",
            "the cycling contact does not open any more from this opening on")
      ->group(group);
  amount("--drift", o.drift_pct, Amount::percent, {-10.0, 10.0}, "PERCENT",
         "by how much the snap points grow with every opening");
  amount("--scatter", o.scatter_pct, Amount::percent, {0.0, 49.0}, "PERCENT",
         "standard deviation of the snap points from cycle to cycle");
  add_count(simulate, "--bounce", o.bounces, 0, 1000, "bounce", "how often the contact bounces after closing")->group(group);
}

}  // namespace switchwright::cli
