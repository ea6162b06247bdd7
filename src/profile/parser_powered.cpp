// The [powered] part of a profile.
#include <fmt/format.h>

#include <algorithm>

#include "profile/parser.hpp"
#include "profile/parts.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/profile/network.hpp"
#include "switchwright/profile/powered.hpp"

namespace switchwright::profile_toml {

namespace {
constexpr std::ptrdiff_t most_cycling = 6;  // every combination of open and closed is solved
constexpr Range tolerance = between(0.0, 99.9);
}  // namespace

void ProfileParser::parse_powered() {
  auto section = root_.section("powered", Need::optional);
  if (!section) return;
  Powered powered;
  powered.contact_max_ohm = profile_->limits.sound_max_ohm;
  for (const Word& word : section->words("outside", Need::optional))
    if (const auto id = fresh_id(word, "terminal")) powered.outside.push_back(*id);
  outside_ = powered.outside;

  const auto supply = pair_of(*section, "supply");
  if (supply) powered.supply = *supply;
  const auto volts = section->number("voltage_v", Need::required, above_zero);
  if (volts) powered.voltage_v = *volts;
  parse_supply_range(*section, volts, powered);
  if (const auto word = section->word("earth", Need::optional)) {
    std::vector<std::string> known{"midpoint", "star"};
    if (supply) known.insert(known.end(), {supply->first(), supply->second()});
    if (std::find(known.begin(), known.end(), word->text) == known.end())
      mistakes_->add(word->at,
                     fmt::format("expected midpoint, star or one end of the supply for \"earth\", saw \"{}\"; {}",
                                 word->text, suggestion(word->text, known)));
    else
      powered.earth = word->text;
  }
  parse_bond(*section, powered);
  if (const auto ohm = section->number("contact_max_ohm", Need::optional, above_zero)) powered.contact_max_ohm = *ohm;
  if (const auto v = section->number("dead_max_v", Need::optional, above_zero)) powered.dead_max_v = *v;
  parse_powered_loads(*section, volts, powered);
  section->finish();

  if (!supply || !volts) return;
  check_powered_circuit(*section, powered);
  profile_->powered = std::move(powered);
}

void ProfileParser::parse_bond(Section& section, Powered& powered) {
  if (const auto word = section.word("earth_point", Need::optional)) powered.earth_point = word->text;
  if (const auto ohm = section.number("bond_max_ohm", Need::optional, above_zero)) powered.bond_max_ohm = *ohm;
  const auto nodes = profile_->network_nodes();
  if (std::find(nodes.begin(), nodes.end(), powered.earth_point) != nodes.end() ||
      std::find(powered.outside.begin(), powered.outside.end(), powered.earth_point) != powered.outside.end())
    mistakes_->add(
        section.at("earth_point"),
        fmt::format("expected a name of its own for the supply's earth terminal, saw \"{}\", which is a point of "
                    "the circuit; give earth_point = \"...\"",
                    powered.earth_point));
}

void ProfileParser::parse_supply_range(Section& section, std::optional<double> volts, Powered& powered) {
  const auto given = section.interval("supply_v", above_zero);
  const auto word = section.word("range", Need::optional);
  if (given && word)
    mistakes_->add(section.at("range"), "expected either range or supply_v in [powered], saw both; keep one");
  if (given) {
    powered.range = "given";
    powered.supply_v = *given;
    return;
  }
  if (!word) {
    if (!section.has("supply_v"))
      mistakes_->add(section.at(), fmt::format("expected range or supply_v in [powered], saw neither; add the line "
                                               "range = \"ansi-c84.1-a\" or supply_v = [min, max]"));
    return;
  }
  const std::vector<std::string> known = supply_standards();
  if (std::find(known.begin(), known.end(), word->text) == known.end()) {
    mistakes_->add(word->at, fmt::format("expected a voltage standard for \"range\", saw \"{}\"; {}", word->text,
                                         suggestion(word->text, known)));
    return;
  }
  powered.range = word->text;
  if (!volts) return;
  if (const auto range = supply_range(word->text, *volts))
    powered.supply_v = *range;
  else
    mistakes_->add(word->at, fmt::format("expected a nominal voltage that {} lists (120, 208, 240, 480), saw {}; give "
                                         "supply_v = [min, max] instead of range",
                                         word->text, *volts));
}

void ProfileParser::parse_powered_loads(Section& section, std::optional<double> volts, Powered& powered) {
  for (Section item : section.sections("load", Need::required)) {
    PoweredLoad load;
    std::optional<std::string> id;
    if (const auto word = item.word("id", Need::required)) {
      id = fresh_id(*word, "contact or element");
      item.called(word->text);
    }
    const auto between = pair_of(item, "between");
    const auto ohm = item.number("ohm", Need::optional, above_zero);
    const auto watts = item.number("power_w", Need::optional, above_zero);
    if (item.has("ohm") == item.has("power_w"))
      mistakes_->add(item.at(), fmt::format("expected either ohm or power_w (at [powered] voltage_v) in {}, saw {}",
                                            item.name(), item.has("ohm") ? "both" : "neither"));
    const auto percent = item.number("tolerance_pct", Need::required, tolerance);
    load.lamp = item.truth("lamp").value_or(false);
    load.strikes_v = item.interval("strikes_v", above_zero);
    item.finish();
    if (!id || !between || !percent || !(ohm || (watts && volts))) continue;
    load.id = *id;
    load.between = *between;
    load.ohm = ohm ? *ohm : *volts * *volts / *watts;
    load.tolerance_pct = *percent;
    powered.loads.push_back(std::move(load));
  }
}

void ProfileParser::check_powered_circuit(Section& section, const Powered& powered) {
  std::vector<std::string> nodes = profile_->network_nodes();
  nodes.insert(nodes.end(), powered.outside.begin(), powered.outside.end());
  for (const Position& position : profile_->positions) {
    const auto cycling = std::count_if(profile_->contacts.begin(), profile_->contacts.end(),
                                       [&](const Contact& contact) { return contact.cycles(position.id); });
    if (cycling > most_cycling)
      mistakes_->add(section.at(),
                     fmt::format("expected at most {} cycling contacts at a position under power, saw {} at "
                                 "\"{}\"",
                                 most_cycling, cycling, position.id));
    const Network contacts(nodes, profile_parts::closed_contacts(*profile_, position.id));
    if (contacts.resistance_ohm(powered.supply.first(), powered.supply.second()) != 0.0) continue;
    mistakes_->add(section.at("supply"),
                   fmt::format("expected a supply that no position shorts, saw {} joined by closed contacts at \"{}\"",
                               powered.supply.text(), position.id));
  }
}

}  // namespace switchwright::profile_toml
