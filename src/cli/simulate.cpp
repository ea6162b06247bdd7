#include <unistd.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <nlohmann/json.hpp>

#include "cli/choose/places.hpp"
#include "cli/options/options.hpp"
#include "cli/output.hpp"
#include "switchwright/core/amount.hpp"
#include "switchwright/core/clock.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/core/interrupt.hpp"
#include "switchwright/core/loop.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/core/words.hpp"
#include "switchwright/profile/fault.hpp"
#include "switchwright/profile/library.hpp"
#include "switchwright/profile/powered.hpp"
#include "switchwright/profile/wired.hpp"
#include "switchwright/sim/simulator.hpp"

namespace switchwright::cli {

namespace {

/// "H1-H2"; names may have hyphens of their own, so every hyphen is tried.
Pair pair_named(const std::string& text, const Profile& profile, const char* option) {
  const auto known = bench_points(profile);
  const auto is_known = [&](const std::string& name) {
    return std::find(known.begin(), known.end(), name) != known.end();
  };
  for (std::size_t at = text.find('-'); at != std::string::npos; at = text.find('-', at + 1)) {
    const Pair pair{text.substr(0, at), text.substr(at + 1)};
    if (pair.first() != pair.second() && is_known(pair.first()) && is_known(pair.second())) return pair;
  }
  throw Error(ErrorKind::usage, "\"" + text + "\" is no pair of terminals", option,
              "write two of " + joined_with_and(known) + " with a hyphen between, like " + known[0] + "-" + known[1]);
}

SimulatedMeter meter_at(const std::string& text, const Profile& profile) {
  const auto equals = text.find('=');
  const auto at = text.find('@', equals == std::string::npos ? 0 : equals);
  if (equals == std::string::npos || equals == 0 || at == std::string::npos)
    throw Error(ErrorKind::usage, "\"" + text + "\" places no meter", "--meter-at",
                "write NAME=METER@PAIR, like load=scpi@H1-H2");
  SimulatedMeter meter;
  meter.name = text.substr(0, equals);
  meter.definition = load_meter_definition(text.substr(equals + 1, at - equals - 1), meter_places());
  meter.pair = pair_named(text.substr(at + 1), profile, "--meter-at");
  return meter;
}

struct NameAndValue {
  std::string name;
  std::string value;
};
NameAndValue split_at_equals(const std::string& text, const char* option, const char* how) {
  const auto equals = text.rfind('=');
  if (equals == std::string::npos || equals == 0 || equals + 1 == text.size())
    throw Error(ErrorKind::usage, "\"" + text + "\" cannot be read", option, how);
  return {text.substr(0, equals), text.substr(equals + 1)};
}

void set_up_probes(const SimulateOptions& options, const Profile& profile, SimulatorSettings& settings) {
  settings.lead_ohm = options.leads_ohm.value_or(settings.lead_ohm);
  settings.shorted_ohm = options.shorted_ohm;
  settings.offset_ohm = options.offset_ohm;
  for (const std::string& text : options.volts) {
    const char* how = "write it like A1-A2=24ac or L1-CASE=-0.05dc";
    const auto [pair, volts] = split_at_equals(text, "--volts", how);
    const bool dc = volts.ends_with("dc");
    if (!dc && !volts.ends_with("ac"))
      throw Error(ErrorKind::usage, "\"" + text + "\" does not say ac or dc", "--volts", how);
    const double value = read_amount(volts.substr(0, volts.size() - 2), Amount::volts, {-1e5, 1e5}, "--volts");
    settings.volts.push_back({pair_named(pair, profile, "--volts"), value, dc});
  }
  for (const std::string& text : options.fingers) {
    const char* how = "write it like off=5e6";
    const auto [position, ohm] = split_at_equals(text, "--fingers", how);
    if (!profile.position(position))
      throw Error(ErrorKind::usage, "no knob position is called \"" + position + "\"", "--fingers", how);
    settings.fingers[position] = read_amount(ohm, Amount::ohms, {0.0, 1e12}, "--fingers");
  }
  for (const std::string& text : options.closings) {
    const char* how = "write it like line=0.01,0.01,1.5";
    auto [contact, ohms] = split_at_equals(text, "--closing", how);
    for (std::size_t comma; !ohms.empty(); ohms = comma == std::string::npos ? "" : ohms.substr(comma + 1)) {
      comma = ohms.find(',');
      settings.closings[contact].push_back(read_amount(ohms.substr(0, comma), Amount::ohms, {0.0, 1e12}, "--closing"));
    }
  }
}

/// "stuck-closed:cycling=2%": what stands before the last equals sign, and the share after it.
std::pair<std::string, double> with_share(const std::string& text, const char* option, const char* how) {
  const auto [what, share] = split_at_equals(text, option, how);
  const double part =
      share.ends_with("%")
          ? read_amount(share.substr(0, share.size() - 1), Amount::percent, {0.0, 100.0}, option) / 100.0
          : read_amount(share, Amount::share, {0.0, 1.0}, option);
  return {what, part};
}

void set_up_carton(const SimulateOptions& options, const Profile& part, SimulatorSettings& settings) {
  SimulatedCarton& carton = settings.carton;
  carton.size = options.lot;
  carton.spread = options.lot_spread_pct / 100.0;
  for (const std::string& text : options.references) {
    const auto [name, ohm] = split_at_equals(text, "--reference", "write it like R100=100");
    settings.references_ohm[name] = read_amount(ohm, Amount::ohms, {0.0, 1e9, true}, "--reference");
  }
  if (options.lot == 0 && !(options.lot_faults.empty() && options.lot_versions.empty() && options.same_labels.empty()))
    throw Error(ErrorKind::usage, "there is no carton", "--lot", "say how many units are in it: --lot 200");
  for (const std::string& text : options.lot_faults) {
    const auto [fault, share] = with_share(text, "--lot-fault", "write it like stuck-closed:cycling=2%");
    carton.faulty.push_back({fault, parse_faults(fault, part), share});
  }
  for (const std::string& text : options.lot_versions) {
    const auto [id, share] = with_share(text, "--lot-version", "write it like regulator-shunt-208=5%");
    Profile other = load_profile(id, profile_places());
    const auto same_positions =
        std::equal(other.positions.begin(), other.positions.end(), part.positions.begin(), part.positions.end(),
                   [](const Position& a, const Position& b) { return a.id == b.id; });
    if (other.terminals != part.terminals || !same_positions)
      throw Error(ErrorKind::usage, id + " has other terminals or positions than " + part.id, "--lot-version",
                  "name another version of the same part");
    carton.versions.push_back({std::move(other), share});
  }
  for (const std::string& text : options.same_labels) {
    const auto [unit, other] = split_at_equals(text, "--same-label", "write it like 7=3");
    const auto most = static_cast<unsigned long>(options.lot);
    carton.same_label[static_cast<int>(read_count(unit, 1, most, {}, "--same-label"))] =
        static_cast<int>(read_count(other, 1, most, {}, "--same-label"));
  }
}

constexpr std::string_view other_profile = "profile:";

/// A diagnosis may say that the part is another one: then that one is put on the bench.
std::string part_on_the_bench(const SimulateOptions& options) {
  std::string id = options.profile;
  for (const std::string& text : options.faults)
    if (text.starts_with(other_profile)) id = text.substr(other_profile.size());
  return id;
}

/// The bench that is not wired as the profile says.
void wire_wrongly(SimulatedPower& power, const SimulateOptions& options, const Profile& profile) {
  if (!profile.powered) return;
  if (!options.supply_between.empty())
    power.supply_between = pair_named(options.supply_between, profile, "--supply-between");
  const Pair supply = power.supply_between.value_or(profile.powered->supply);
  if (options.earth) {
    const std::vector<std::string> known{"midpoint", "star", supply.first(), supply.second()};
    if (std::find(known.begin(), known.end(), *options.earth) == known.end())
      throw Error(ErrorKind::usage, "\"" + *options.earth + "\" cannot be at earth", "--earth",
                  "write one of " + joined_with_and(known));
    power.earth = options.earth;
  }
  power.supply_lost_at_s = options.supply_lost_at_s;
  power.supply_lost_for_s = options.supply_lost_for_s;
  if (!options.bond.empty())
    power.bond_ohm = options.bond == "open" ? std::numeric_limits<double>::infinity()
                                            : read_amount(options.bond, Amount::ohms, {0.0, 1e9}, "--bond");
}

SimulatedPower power_of(const SimulateOptions& options, const Profile& profile) {
  SimulatedPower power;
  wire_wrongly(power, options, profile);
  power.on = options.powered_on;
  power.supply_v = options.supply_v;
  power.load_ohm = options.load_ohm;
  power.averaging_s = options.averaging_s;
  power.sway = options.sway_pct / 100.0;
  power.sway_period_s = options.sway_period_s;
  power.ripple = options.ripple_pct / 100.0;
  power.ambient_c = options.ambient_c.value_or(power.ambient_c);
  power.ambient_compensation = options.ambient_compensation;
  power.time_constant_s = options.time_constant_s.value_or(power.time_constant_s);
  if (options.welds_at) power.welds_at_operation = *options.welds_at;
  if (options.drift_pct) power.drift_per_opening = *options.drift_pct / 100.0;
  if (options.scatter_pct) power.scatter = *options.scatter_pct / 100.0;
  power.bounces = options.bounces.value_or(power.bounces);
  return power;
}

/// What is in the carton: for tests and for those who train with it.
nlohmann::ordered_json truth_of(const SimulatorSettings& settings, const Profile& part) {
  auto truth = nlohmann::ordered_json::object();
  const auto units = deal(settings.carton, part, settings.seed);
  for (std::size_t i = 0; i < units.size(); ++i)
    if (units[i].what != "good") truth[units[i].what].push_back(i + 1);
  return truth;
}

/// What to paste into another terminal; the simulated part is said to be one by the hands it is reached through.
Profile as_it_is_wired(const Profile& part, const std::vector<std::string>& stated) {
  if (stated.empty()) return part;
  std::vector<WiredLoad> loads;
  for (const std::string& text : stated) loads.push_back(parse_wired_load(text, part));
  return wired_profile(part, loads);
}

std::string line_to_paste(const SimulateOptions& options, const Profile& profile, const MeterDefinition& meter,
                          const Simulator& simulator, const std::vector<SimulatedMeter>& more) {
  if (more.empty())
    return "switchwright qualify --profile " + shell_word(profile.id) + " --meter " + shell_word(meter.id) +
           " --port " + shell_word(simulator.port()) + " --hands " + shell_word("sim:" + simulator.hands_socket()) +
           " --acknowledge de-energised --operator demo";
  std::string line = "switchwright trace --simulated --profile " + shell_word(profile.id) + " --position " +
                     shell_word(options.position.empty() ? profile.positions.back().id : options.position);
  for (const SimulatedMeter& one : more)
    line += " --channel " + shell_word(one.name + "=" + one.definition.id + "@" + simulator.port(one.name));
  return line + " --acknowledge energised --operator demo";
}

}  // namespace

int run(const SimulateOptions& options) {
  const Profile profile = as_it_is_wired(load_profile(part_on_the_bench(options), profile_places()), options.wired);
  const MeterDefinition meter = load_meter_definition(options.meter, meter_places());
  SimulatorSettings settings;
  for (const std::string& text : options.faults) {
    if (text.starts_with(other_profile)) continue;
    const std::vector<Fault> faults = parse_faults(text, profile);
    settings.faults.insert(settings.faults.end(), faults.begin(), faults.end());
  }
  settings.rate_hz = options.rate_hz;
  settings.link = options.link;
  settings.seed = options.seed;
  settings.power = power_of(options, profile);
  settings.current = {options.current_dead,
                      options.current_stuck_on,
                      options.current_share_pct / 100.0,
                      options.current_display != "none",
                      options.current_display == "set",
                      options.current_open_v,
                      options.thermal_uv * 1e-6,
                      options.thermal_drift_uv_per_s * 1e-6};
  set_up_probes(options, profile, settings);
  set_up_carton(options, profile, settings);
  settings.start.position = options.position;
  for (const std::string& text : options.meters_at) {
    SimulatedMeter further = meter_at(text, profile);
    for (const SimulatedMeter& other : settings.more_meters)
      if (other.name == further.name)
        throw Error(ErrorKind::usage, "two meters are called \"" + further.name + "\"", "--meter-at",
                    "give each its own name");
    settings.more_meters.push_back(std::move(further));
  }

  Loop loop;
  const SystemClock clock;
  const Interrupt interrupt{loop, [&loop] { loop.stop(); }};
  const Simulator simulator{loop, clock, profile, meter, settings};
  auto ports = nlohmann::ordered_json::object();
  for (const SimulatedMeter& further : settings.more_meters) ports[further.name] = simulator.port(further.name);
  put_line(nlohmann::ordered_json{{"type", "ready"},
                                  {"port", simulator.port()},
                                  {"hands", simulator.hands_socket()},
                                  {"profile", profile.id},
                                  {"meter", meter.id},
                                  {"ports", ports},
                                  {"carton", truth_of(settings, profile)},
                                  {"pid", ::getpid()}}
               .dump());
  say("paste into another terminal:\n  " + line_to_paste(options, profile, meter, simulator, settings.more_meters) +
      "\nEnd the simulator with Ctrl-C. What the hands socket takes: switchwright simulate --help.");
  loop.run();
  return 0;
}

}  // namespace switchwright::cli
