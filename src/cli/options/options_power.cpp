#include "cli/options/options_power.hpp"

#include <CLI/CLI.hpp>

#include "cli/options/option_values.hpp"
#include "cli/options/options.hpp"
#include "cli/options/options_trace.hpp"

namespace switchwright::cli {

namespace {

void describe_simulated_current(CLI::App& simulate, SimulateOptions& o) {
  const char* group = "Millivolt drop (a bench supply clipped to the pair, switched by the hands)";
  simulate.add_flag("--current-dead", o.current_dead, "switched on, the supply gives no current")->group(group);
  simulate.add_flag("--current-stuck-on", o.current_stuck_on, "switched off, the supply goes on")->group(group);
  add_amount(simulate, "--current-share", o.current_share_pct, Amount::percent, {0.0, 1000.0},
             "percent of the set current that the supply gives")
      ->group(group)
      ->type_name("PERCENT")
      ->default_str("100");
  simulate
      .add_option("--current-display", o.current_display,
                  "what its display shows: the current given, the current set, or none (the hands read none)")
      ->group(group)
      ->check(one_of({"given", "set", "none"}))
      ->capture_default_str();
  add_amount(simulate, "--current-open", o.current_open_v, Amount::volts, {0.0, 60.0},
             "volts of the supply over an open contact")
      ->group(group)
      ->type_name("V")
      ->default_str("12");
  add_amount(simulate, "--thermal", o.thermal_uv, Amount::number, {-1e5, 1e5},
             "thermal voltage at every closed contact, current or not")
      ->group(group)
      ->type_name("MICROVOLT");
  add_amount(simulate, "--thermal-drift", o.thermal_drift_uv_per_s, Amount::number, {-1e5, 1e5},
             "by which it grows each second")
      ->group(group)
      ->type_name("MICROVOLT");
}

}  // namespace

void describe_simulated_power(CLI::App& simulate, SimulateOptions& o) {
  const char* group = "Under power (the profile's [powered] part says how it is wired)";
  const auto amount = [&](const char* name, auto& target, Amount kind, AmountRange range, const char* type,
                          const char* help) {
    return add_amount(simulate, name, target, kind, range, help)->group(group)->type_name(type);
  };
  amount("--supply", o.supply_v, Amount::volts, {0.0, 1000.0}, "V",
         "what the supply gives; default: the profile's voltage");
  simulate
      .add_option("--supply-between", o.supply_between,
                  "the supply is wired to these two points instead of those of the profile")
      ->type_name("A-B")
      ->group(group);
  simulate
      .add_option(
          "--earth", o.earth,
          "what the supply has at earth instead of what the profile says: midpoint, star, or one of its two points")
      ->type_name("WHAT")
      ->group(group);
  amount("--supply-lost-at", o.supply_lost_at_s, Amount::seconds, {0.0, 1e6}, "TIME",
         "so long after it was first switched on the supply gives nothing any more");
  amount("--supply-lost-for", o.supply_lost_for_s, Amount::seconds, {0.0, 1e6}, "TIME",
         "and it comes back after so long");
  simulate.add_option("--bond", o.bond, "exposed metal to the supply's earth: ohms, or open; default: 0.05")
      ->type_name("OHM")
      ->group(group);
  amount("--sway", o.sway_pct, Amount::percent, {0.0, 49.0}, "PERCENT",
         "by how much the supply slowly rises and falls");
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
  simulate.add_flag("--powered-on", o.powered_on, "the supply is on from the start; else the hands switch it")
      ->group(group);
  simulate.add_option("--position", o.position, "where the knob stands at the start")->type_name("ID")->group(group);
  simulate
      .add_option("--meter-at", o.meters_at,
                  "a further meter, on AC volts, clipped to a pair: NAME=METER@PAIR (load=scpi@H1-H2); may be repeated")
      ->type_name("NAME=METER@PAIR")
      ->group(group);
  amount("--ambient", o.ambient_c, Amount::celsius, {-60.0, 200.0}, "DEGREES",
         "air around the switch, degrees Celsius");
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
  add_count(simulate, "--bounce", o.bounces, 0, 1000, "bounce", "how often the contact bounces after closing")
      ->group(group);
  describe_simulated_current(simulate, o);
}

}  // namespace switchwright::cli
