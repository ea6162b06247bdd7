#include "cli/options/options_power.hpp"

#include <CLI/CLI.hpp>

#include "cli/options/options.hpp"
#include "cli/options/options_trace.hpp"
#include "switchwright/core/error.hpp"

namespace switchwright::cli {

namespace {

void describe_simulated_current(CLI::App& simulate, SimulateOptions& o) {
  const char* group = "Millivolt drop (a bench supply clipped to the pair, switched by the hands)";
  const auto in_group = [&](CLI::Option* option) { return option->group(group); };
  in_group(simulate.add_flag("--current-dead", o.current_dead, "switched on, the supply gives no current"));
  in_group(simulate.add_flag("--current-stuck-on", o.current_stuck_on, "switched off, the supply goes on"));
  in_group(simulate.add_option("--current-share", o.current_share_pct, "percent of the set current that the supply gives"))
      ->type_name("PERCENT")
      ->check(CLI::Range(0.0, 1000.0))
      ->capture_default_str();
  in_group(simulate.add_option("--current-display", o.current_display,
                               "what its display shows: the current given, the current set, or none (the hands read none)"))
      ->check(CLI::IsMember({"given", "set", "none"}))
      ->capture_default_str();
  in_group(simulate.add_option("--current-open", o.current_open_v, "volts of the supply over an open contact"))
      ->type_name("V")
      ->check(CLI::Range(0.0, 60.0))
      ->capture_default_str();
  in_group(simulate.add_option("--thermal", o.thermal_uv, "thermal voltage at every closed contact, current or not"))
      ->type_name("MICROVOLT")
      ->check(CLI::Range(-1e5, 1e5));
  in_group(simulate.add_option("--thermal-drift", o.thermal_drift_uv_per_s, "by which it grows each second"))
      ->type_name("MICROVOLT")
      ->check(CLI::Range(-1e5, 1e5));
}

}  // namespace

void describe_simulated_power(CLI::App& simulate, SimulateOptions& o) {
  const char* group = "Under power (the profile's [powered] part says how it is wired)";
  const auto in_group = [&](CLI::Option* option) { return option->group(group); };
  in_group(simulate.add_option("--supply", o.supply_v, "what the supply gives; default: the profile's voltage"))
      ->type_name("V")
      ->check(CLI::Range(0.0, 1000.0));
  in_group(simulate.add_option("--supply-between", o.supply_between,
                               "the supply is wired to these two points instead of those of the profile"))
      ->type_name("A-B");
  in_group(simulate.add_option("--earth", o.earth,
                               "what the supply has at earth instead of what the profile says: midpoint, star, or one of its "
                               "two points"))
      ->type_name("WHAT");
  in_group(simulate.add_option("--supply-lost-at", o.supply_lost_at_s,
                               "seconds after it was first switched on the supply gives nothing any more"))
      ->type_name("S")
      ->check(CLI::Range(0.0, 1e6));
  in_group(simulate.add_option("--supply-lost-for", o.supply_lost_for_s, "and it comes back after so long"))
      ->type_name("S")
      ->check(CLI::Range(0.0, 1e6));
  in_group(simulate.add_option("--bond", o.bond, "exposed metal to the supply's earth: ohms, or open; default: 0.05"))
      ->type_name("OHM")
      ->check(CLI::Validator{[](std::string& text) {
                               double ohm = 0.0;
                               const bool fine = text == "open" || (CLI::detail::lexical_cast(text, ohm) && ohm >= 0.0);
                               return fine ? std::string{} : "expected ohms of at least 0, or open, saw " + text;
                             },
                             ""});
  in_group(simulate.add_option("--sway", o.sway_pct, "percent by which the supply slowly rises and falls"))
      ->type_name("PERCENT")
      ->check(CLI::Range(0.0, 49.0));
  in_group(simulate.add_option("--sway-over", o.sway_period_s, "how long one rise and fall takes"))
      ->type_name("S")
      ->check(CLI::Range(1.0, 1e6))
      ->capture_default_str();
  in_group(simulate.add_option("--ripple", o.ripple_pct,
                               "percent by which the supply jumps about, twice a second"))
      ->type_name("PERCENT")
      ->check(CLI::Range(0.0, 49.0));
  in_group(simulate.add_option_function<std::string>(
               "--load", [&o](const std::string& text) { o.load_ohm = parse_load_ohm(text); },
               "what hangs on the switch in place of the profile's load: 2800W@240, or 21ohm"))
      ->type_name("LOAD")
      ->check(CLI::Validator{[](std::string& text) {
                               try {
                                 parse_load_ohm(text);
                                 return std::string{};
                               } catch (const Error& error) {
                                 return std::string{error.what()};
                               }
                             },
                             ""});
  in_group(simulate.add_option("--averaging", o.averaging_s, "how long a meter averages; default: 0.4 of its interval"))
      ->type_name("S")
      ->check(CLI::Range(0.0, 60.0));
  in_group(simulate.add_flag("--powered-on", o.powered_on, "the supply is on from the start; else the hands switch it"));
  in_group(simulate.add_option("--position", o.position, "where the knob stands at the start"))->type_name("ID");
  in_group(simulate.add_option("--meter-at", o.meters_at,
                               "a further meter, on AC volts, clipped to a pair: NAME=METER@PAIR (load=scpi@H1-H2); may be "
                               "repeated"))
      ->type_name("NAME=METER@PAIR");
  in_group(simulate.add_option("--ambient", o.ambient_c, "air around the switch, degree Celsius"))
      ->type_name("C")
      ->check(CLI::Range(-60.0, 200.0));
  in_group(simulate.add_option("--compensation", o.ambient_compensation,
                               "share of an ambient change that the second bimetal takes out, 0 to 1"))
      ->check(CLI::Range(0.0, 1.0))
      ->capture_default_str();
  in_group(simulate.add_option("--time-constant", o.time_constant_s, "of bimetal and heater"))
      ->type_name("S")
      ->check(CLI::Range(1e-3, 1e5));
  in_group(simulate.add_option("--welds-at", o.welds_at, "the cycling contact does not open any more from this opening on"))
      ->type_name("N")
      ->check(CLI::PositiveNumber);
  in_group(simulate.add_option("--drift", o.drift_pct, "percent by which the snap points grow with every opening"))
      ->type_name("PERCENT")
      ->check(CLI::Range(-10.0, 10.0));
  in_group(simulate.add_option("--scatter", o.scatter_pct, "standard deviation of the snap points from cycle to cycle, percent"))
      ->type_name("PERCENT")
      ->check(CLI::Range(0.0, 49.0));
  in_group(simulate.add_option("--bounce", o.bounces, "how often the contact bounces after closing"))
      ->type_name("N")
      ->check(CLI::Range(0, 1000));
  describe_simulated_current(simulate, o);
}

}  // namespace switchwright::cli
