#include "cli/profiles_powered.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <nlohmann/json.hpp>

#include "cli/output.hpp"
#include "cli/view/table.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/profile/powered.hpp"

namespace switchwright::cli {

namespace {

using Json = nlohmann::ordered_json;

/// Short, for a cell: a dead pair says no more than that; its limit stands below the table and in the JSON.
std::string cell(const VoltageExpectation& e) {
  if (e.state == VoltageState::unsolved) return "not solved";
  if (e.state == VoltageState::not_checked) return e.stray_max_v ? "floats" : "not checked";
  std::vector<std::string> bands;
  for (const Interval& band : e.bands)
    bands.push_back(band.min > 0.0 ? fmt::format("{:.0f}-{:.0f} V", band.min, band.max)
                    : e.state == VoltageState::cycles && e.stray_max_v ? "floats"
                    : e.state == VoltageState::divided                 ? fmt::format("0-{:.0f} V", band.max)
                                                                       : "dead");
  return fmt::format("{}", fmt::join(bands, " / "));
}

}  // namespace

void print_voltages_json(const Profile& profile) {
  for (const VoltageExpectation& e : voltage_expectations(profile)) {
    Json json{{"type", "expectation"},
              {"quantity", "voltage"},
              {"position", e.position},
              {"pair", {e.pair.first(), e.pair.second()}},
              {"state", to_string(e.state)}};
    if (!e.bands.empty()) {
      json["min_v"] = e.v.min;
      json["max_v"] = e.v.max;
      if (e.nominal_v) json["nominal_v"] = *e.nominal_v;
      if (e.bands.size() > 1) {
        json["bands"] = Json::array();
        for (const Interval& band : e.bands) json["bands"].push_back({band.min, band.max});
      }
    }
    if (e.stray_max_v) json["stray_max_v"] = *e.stray_max_v;
    if (!e.reason.empty()) json["reason"] = e.reason;
    put_line(json.dump());
  }
}

void show_voltages(const Profile& profile) {
  const auto expected = voltage_expectations(profile);
  const Powered& powered = *profile.powered;
  put_line(terminal_safe(profile.id + ": " + profile.title));
  put_line("  values   " + terminal_safe(profile.values));
  put_line(fmt::format("  supply   {} and {}, {:g} V nominal, {:g} to {:g} V ({})", powered.supply.first(),
                       powered.supply.second(), powered.voltage_v, powered.supply_v.min, powered.supply_v.max,
                       powered.range));
  for (const PoweredLoad& load : powered.loads)
    put_line(fmt::format("  {:<8} {} between {} and {}, {:.4g} ohm within {:g} %", load.lamp ? "lamp" : "load", load.id,
                         load.between.first(), load.between.second(), load.ohm, load.tolerance_pct));
  put_line("");
  put_line("What a meter on AC volts should read under power, derived from the same network:");
  put_line("");
  std::vector<std::string> headings{"pair"};
  for (const Position& position : profile.positions) headings.push_back(position.id);
  Table table{std::move(headings)};
  std::map<std::pair<std::string, Pair>, const VoltageExpectation*> at;
  std::vector<Pair> pairs;
  bool floats = false, cycles = false;
  for (const VoltageExpectation& e : expected) {
    if (std::find(pairs.begin(), pairs.end(), e.pair) == pairs.end()) pairs.push_back(e.pair);
    at[{e.position, e.pair}] = &e;
    floats |= e.stray_max_v.has_value();
    cycles |= e.state == VoltageState::cycles;
  }
  for (const Pair& pair : pairs) {
    std::vector<std::string> row{pair.text()};
    for (const Position& position : profile.positions) row.push_back(cell(*at.at({position.id, pair})));
    table.add(std::move(row));
  }
  put(table.text("  "));
  put_line("");
  double most_dead_v = 0.0;
  for (const VoltageExpectation& e : expected)
    if (e.state == VoltageState::dead) most_dead_v = std::max(most_dead_v, e.v.max);
  put_line(fmt::format("  dead: at most {:g} V, and across closed contacts that carry the load at most {:.3g} V",
                       powered.dead_max_v, most_dead_v));
  if (cycles) put_line("  two bands: a contact cycles there, and a reading in either band is right");
  if (floats)
    put_line(fmt::format(
        "  floats: nothing joins the pair to the supply; leakage that is allowed without power ({} and more) may "
        "show there, the more the higher the meter's input resistance (see stray_max_v in --json)",
        human_ohm(profile.limits.open_min_ohm)));
  if (!bonded_metal(profile).empty())
    put_line(fmt::format("  bond: exposed metal to {}, at most {} with the supply off, before and after",
                         powered.earth_point, human_ohm(powered.bond_max_ohm)));
  put_line("");
  put_line(
      "Mains voltage kills. Measurements under power are for qualified persons; local codes and licensed practice come first.");
}

}  // namespace switchwright::cli
