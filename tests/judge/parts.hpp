// Invented meters, parts and readings for the tests of this room, built by hand.
#pragma once

#include <limits>
#include <optional>
#include <string>

#include "switchwright/judge/judge.hpp"
#include "switchwright/meter/definition.hpp"
#include "switchwright/profile/expectation.hpp"
#include "switchwright/profile/profile.hpp"

namespace parts {

using namespace switchwright;

inline constexpr double infinity = std::numeric_limits<double>::infinity();

inline MeterDefinition meter_of(std::vector<AccuracyRow> rows) {
  MeterDefinition meter;
  meter.id = "invented";
  meter.accuracy = std::move(rows);
  return meter;
}

/// 0.1 ohm digits; first row as in the two-wire example "0,1 ohm digit, +/-(0,8 % + 5 d)", the others
/// invented.
inline MeterDefinition handheld() {
  const auto r = Quantity::resistance;
  return meter_of({{r, 400, 0.1, 0.8, 5},
                   {r, 4e3, 1, 0.8, 3},
                   {r, 40e3, 10, 0.8, 3},
                   {r, 400e3, 100, 0.8, 3},
                   {r, 4e6, 1e3, 1.2, 3},
                   {r, 40e6, 10e3, 3.0, 5}});
}

/// 0.01 ohm digits; first row as in the two-wire example "0,01 ohm digit, +/-(0,5 % + 3 d)", the others
/// invented.
inline MeterDefinition finer() {
  const auto r = Quantity::resistance;
  return meter_of({{r, 600, 0.01, 0.5, 3},
                   {r, 6e3, 0.1, 0.5, 2},
                   {r, 60e3, 1, 0.5, 2},
                   {r, 600e3, 10, 0.5, 2},
                   {r, 6e6, 100, 1.0, 3},
                   {r, 60e6, 1e3, 2.0, 5}});
}

/// Judged as a plan is: leads subtracted without error.
inline Leads ideal_leads() {
  Leads leads;
  leads.ideal = true;
  return leads;
}

/// Two-pole regulator with its heater across the load; values invented.
inline Profile regulator() {
  Profile p;
  p.id = "invented";
  p.rating.voltage_v = 240;
  p.rating.current_a = 15;
  p.terminals = {"L1", "L2", "H1", "H2", "P"};
  p.positions = {{"off", 0, "off"}, {"low", 60, "low"}, {"high", 180, "high"}};
  p.contacts = {{"line", {"L1", "H1"}, {"low", "high"}, {}},
                {"pilot", {"L1", "P"}, {"low", "high"}, {}},
                {"cycling", {"L2", "H2"}, {"high"}, {"low"}}};
  p.elements = {{"heater", {"H1", "H2"}, 14400, 15}};
  return p;
}

inline Expectation closed(std::string position, Pair pair, double max_ohm = 2.0, double sound_ohm = 0.1) {
  Expectation e;
  e.position = std::move(position);
  e.pair = std::move(pair);
  e.state = PairState::closed;
  e.ohm = {0.0, max_ohm};
  e.nominal_ohm = 0.01;
  e.sound_max_ohm = sound_ohm;
  return e;
}
inline Expectation open(std::string position, Pair pair, bool can_make_live = false, double min_ohm = 1e6) {
  Expectation e;
  e.position = std::move(position);
  e.pair = std::move(pair);
  e.state = PairState::open;
  e.ohm = {min_ohm, infinity};
  e.can_make_live = can_make_live;
  return e;
}
inline Expectation element(std::string position, Pair pair, double min_ohm = 12240, double max_ohm = 16560,
                           bool can_make_live = false) {
  Expectation e;
  e.position = std::move(position);
  e.pair = std::move(pair);
  e.state = PairState::element;
  e.ohm = {min_ohm, max_ohm};
  e.nominal_ohm = (min_ohm + max_ohm) / 2.0;
  e.can_make_live = can_make_live;
  return e;
}

inline Indication reads(double ohm, double resolution = 0.1) {
  Indication i;
  i.value = ohm;
  i.resolution = resolution;
  i.flags.autorange = true;
  i.readings = 3;
  return i;
}
inline Indication over_range(std::optional<double> beyond = std::nullopt, bool autorange = true) {
  Indication i;
  i.state = ReadingState::over_range;
  i.beyond = beyond;
  i.flags.autorange = autorange;
  i.readings = 3;
  return i;
}

}  // namespace parts
