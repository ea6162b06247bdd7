// Voltages under power against a circuit simulator: every corner of the tolerances, every state of a cycling
// contact.
#include "switchwright/profile/powered.hpp"

#include <doctest/doctest.h>
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>

#include "spice.hpp"
#include "switchwright/profile/library.hpp"

using namespace switchwright;
using namespace switchwright::reference;

namespace {

const std::filesystem::path shipped = std::filesystem::path(SOURCE_DIR) / "profiles";

struct Part {
  Pair between;
  double min;
  double max;
};

/// The circuit, written out here again so that the check does not lean on the code it checks.
std::vector<Part> parts_of(const Profile& profile, const std::string& position,
                           const std::vector<std::string>& opened) {
  std::vector<Part> parts;
  for (const Contact& c : profile.contacts)
    if (c.conducts_at(position) && std::find(opened.begin(), opened.end(), c.id) == opened.end())
      parts.push_back({c.between, 1e-9, profile.powered->contact_max_ohm});
    else
      parts.push_back({c.between, profile.limits.open_min_ohm, 1e15});  // it may leak as much as cold work allows
  for (const Element& e : profile.elements)
    parts.push_back(
        {e.between, e.nominal_ohm * (1 - e.tolerance_pct / 100), e.nominal_ohm * (1 + e.tolerance_pct / 100)});
  for (const PoweredLoad& l : profile.powered->loads)
    parts.push_back({l.between, l.ohm * (1 - l.tolerance_pct / 100), l.ohm * (1 + l.tolerance_pct / 100)});
  return parts;
}

std::vector<std::vector<std::string>> states_of(const Profile& profile, const std::string& position) {
  std::vector<std::string> cycling;
  for (const Contact& c : profile.contacts)
    if (c.cycles(position)) cycling.push_back(c.id);
  std::vector<std::vector<std::string>> states;
  for (unsigned bits = 0; bits < 1U << cycling.size(); ++bits) {
    states.emplace_back();
    for (std::size_t i = 0; i < cycling.size(); ++i)
      if (bits >> i & 1U) states.back().push_back(cycling[i]);
  }
  return states;
}

}  // namespace

TEST_CASE("voltage bounds are the extremes that ngspice finds over every corner") {
  if (!has_ngspice()) return;
  int compared = 0;
  for (const std::string& id : list_profiles({shipped})) {
    const Profile profile = load_profile(id, {shipped});
    if (!profile.powered) continue;
    auto nodes = powered_nodes(profile);
    nodes.insert(nodes.end(), profile.internal.begin(), profile.internal.end());
    const Powered& powered = *profile.powered;
    for (const Position& position : profile.positions) {
      std::string elements;
      std::vector<std::string> expressions;
      int circuits = 0;
      for (const auto& opened : states_of(profile, position.id)) {
        const auto parts = parts_of(profile, position.id, opened);
        REQUIRE(parts.size() <= 12);
        for (unsigned corner = 0; corner < 1U << parts.size(); ++corner, ++circuits) {
          const auto name = [&](const std::string& node) {
            const auto index = std::find(nodes.begin(), nodes.end(), node) - nodes.begin();
            return node == powered.supply.second() ? fmt::format("0") : fmt::format("c{}n{}", circuits, index);
          };
          elements += fmt::format("V{} {} 0 1\n", circuits, name(powered.supply.first()));
          for (std::size_t i = 0; i < parts.size(); ++i)
            elements += fmt::format("R{}x{} {} {} {}\n", circuits, i, name(parts[i].between.first()),
                                    name(parts[i].between.second()), (corner >> i & 1U) ? parts[i].max : parts[i].min);
          for (std::size_t i = 0; i < nodes.size(); ++i) {
            if (nodes[i] == powered.supply.second()) continue;
            elements += fmt::format("R{}leak{} {} 0 1e14\n", circuits, i, name(nodes[i]));
            expressions.push_back(fmt::format("v({})", name(nodes[i])));
          }
        }
      }
      const std::vector<double> volts = ngspice_values(elements, expressions);
      for (const VoltageExpectation& expected : voltage_expectations(profile)) {
        if (expected.position != position.id || expected.state == VoltageState::not_checked || expected.stray_max_v)
          continue;
        if (profile.is_exposed_metal(expected.pair.first()) || profile.is_exposed_metal(expected.pair.second()))
          continue;
        double least = 1.0;
        double most = 0.0;
        for (int circuit = 0; circuit < circuits; ++circuit) {
          const auto potential = [&](const std::string& node) {
            std::size_t at = static_cast<std::size_t>(circuit) * (nodes.size() - 1);
            for (const std::string& other : nodes) {
              if (other == powered.supply.second()) {
                if (other == node) return 0.0;
                continue;
              }
              if (other == node) return volts[at];
              ++at;
            }
            FAIL("no such node");
            return 0.0;
          };
          const double share = std::abs(potential(expected.pair.first()) - potential(expected.pair.second()));
          least = std::min(least, share);
          most = std::max(most, share);
        }
        double min_v = least * powered.supply_v.min;
        if (min_v <= powered.dead_max_v) min_v = 0.0;
        const double max_v = std::max(most * powered.supply_v.max, min_v == 0.0 ? powered.dead_max_v : 0.0);
        CAPTURE(id);
        CAPTURE(position.id);
        CAPTURE(expected.pair.text());
        CHECK(expected.v.min == doctest::Approx(min_v).epsilon(1e-5));
        CHECK(expected.v.max == doctest::Approx(max_v).epsilon(1e-5));
        ++compared;
      }
    }
  }
  MESSAGE(compared << " voltage intervals compared");
}
