#include <unistd.h>

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>

#include "cli/options/options.hpp"
#include "cli/output.hpp"
#include "cli/choose/places.hpp"
#include "switchwright/core/interrupt.hpp"
#include "switchwright/core/clock.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/core/loop.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/profile/fault.hpp"
#include "switchwright/profile/library.hpp"
#include "switchwright/profile/powered.hpp"
#include "switchwright/sim/simulator.hpp"

namespace switchwright::cli {

namespace {

/// "H1-H2"; names may have hyphens of their own, so every hyphen is tried.
Pair pair_named(const std::string& text, const Profile& profile) {
  const auto known = profile.powered ? powered_nodes(profile) : profile.nodes();
  const auto is_known = [&](const std::string& name) { return std::find(known.begin(), known.end(), name) != known.end(); };
  for (std::size_t at = text.find('-'); at != std::string::npos; at = text.find('-', at + 1)) {
    const Pair pair{text.substr(0, at), text.substr(at + 1)};
    if (pair.first() != pair.second() && is_known(pair.first()) && is_known(pair.second())) return pair;
  }
  throw Error(ErrorKind::usage, "\"" + text + "\" is no pair of terminals", "--meter-at",
              "write two of " + joined_with_and(known) + " with a hyphen between, like " + known[0] + "-" + known[1]);
}

SimulatedMeter meter_at(const std::string& text, const Profile& profile) {
  const auto equals = text.find('=');
  const auto at = text.find('@', equals == std::string::npos ? 0 : equals);
  if (equals == std::string::npos || equals == 0 || at == std::string::npos)
    throw Error(ErrorKind::usage, "\"" + text + "\" places no meter", "--meter-at", "write NAME=METER@PAIR, like load=scpi@H1-H2");
  SimulatedMeter meter;
  meter.name = text.substr(0, equals);
  meter.definition = load_meter_definition(text.substr(equals + 1, at - equals - 1), meter_places());
  meter.pair = pair_named(text.substr(at + 1), profile);
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

/// A number with its unit behind it. @throws Error(usage).
double number_before(const std::string& text, std::string_view unit, const char* option, const char* how) {
  std::size_t used = 0;
  double value = 0.0;
  try {
    value = std::stod(text, &used);
  } catch (const std::exception&) {
    used = 0;
  }
  if (used == 0 || !std::isfinite(value) || text.substr(used) != unit)
    throw Error(ErrorKind::usage, "\"" + text + "\" cannot be read", option, how);
  return value;
}

void set_up_probes(const SimulateOptions& options, const Profile& profile, SimulatorSettings& settings) {
  settings.lead_ohm = options.leads_ohm.value_or(settings.lead_ohm);
  settings.shorted_ohm = options.shorted_ohm;
  settings.offset_ohm = options.offset_ohm;
  for (const std::string& text : options.volts) {
    const char* how = "write it like A1-A2=24ac or L1-CASE=-0.05dc";
    const auto [pair, volts] = split_at_equals(text, "--volts", how);
    const bool dc = volts.ends_with("dc");
    settings.volts.push_back({pair_named(pair, profile), number_before(volts, dc ? "dc" : "ac", "--volts", how), dc});
  }
  for (const std::string& text : options.fingers) {
    const char* how = "write it like off=5e6";
    const auto [position, ohm] = split_at_equals(text, "--fingers", how);
    if (!profile.position(position))
      throw Error(ErrorKind::usage, "no knob position is called \"" + position + "\"", "--fingers", how);
    settings.fingers[position] = number_before(ohm, "", "--fingers", how);
  }
  for (const std::string& text : options.closings) {
    const char* how = "write it like line=0.01,0.01,1.5";
    auto [contact, ohms] = split_at_equals(text, "--closing", how);
    for (std::size_t comma; !ohms.empty(); ohms = comma == std::string::npos ? "" : ohms.substr(comma + 1)) {
      comma = ohms.find(',');
      settings.closings[contact].push_back(number_before(ohms.substr(0, comma), "", "--closing", how));
    }
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

SimulatedPower power_of(const SimulateOptions& options) {
  SimulatedPower power;
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

}  // namespace

int run(const SimulateOptions& options) {
  const Profile profile = load_profile(part_on_the_bench(options), profile_places());
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
  settings.power = power_of(options);
  set_up_probes(options, profile, settings);
  settings.start.position = options.position;
  for (const std::string& text : options.meters_at) {
    SimulatedMeter further = meter_at(text, profile);
    for (const SimulatedMeter& other : settings.more_meters)
      if (other.name == further.name)
        throw Error(ErrorKind::usage, "two meters are called \"" + further.name + "\"", "--meter-at", "give each its own name");
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
                                  {"pid", ::getpid()}}
               .dump());
  loop.run();
  return 0;
}

}  // namespace switchwright::cli
