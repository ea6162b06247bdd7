#include "switchwright/profile/closings.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <set>

#include "switchwright/profile/library.hpp"

using namespace switchwright;

namespace {

const std::filesystem::path shipped = std::filesystem::path(SOURCE_DIR) / "profiles";

/// Counted apart from the code under test: readings of the pair that the contact itself joins, after the knob was
/// read at a position where it is open.
int read_after_open(const Profile& profile, const Contact& contact, const std::vector<Placement>& route) {
  int seen = 0;
  bool opened = true;
  for (const Placement& placement : route)
    for (const std::string& position : placement.positions) {
      if (!contact.conducts_at(position)) opened = true;
      if (!contact.conducts_at(position) || !(placement.pair == contact.between)) continue;
      seen += opened;
      opened = false;
    }
  (void)profile;
  return seen;
}

std::set<std::pair<Pair, std::string>> places(const std::vector<Placement>& route) {
  std::set<std::pair<Pair, std::string>> all;
  for (const Placement& placement : route)
    for (const std::string& position : placement.positions) all.insert({placement.pair, position});
  return all;
}

}  // namespace

TEST_CASE("every contact that the knob opens is seen to close three times and nothing is left out") {
  const Profile profile = load_profile("regulator-shunt-240", {shipped});
  const auto expected = expectations(profile);
  for (const char* hands : {"person", "scanner"}) {
    CAPTURE(hands);
    const RouteCost cost = load_route_cost(hands, {shipped});
    const Route route = plan_route(profile, expected, cost);
    const auto full = with_closings(profile, expected, route.placements, cost);
    CHECK(places(full) == places(route.placements));
    for (const auto& closed : closings_in(profile, expected, full)) {
      CAPTURE(closed.first);
      CHECK(closed.second >= 3);
    }
    // Line and pilot stand in a row between H1 and P too, so one more turn there shows both; cycling has one pair.
    std::size_t before = 0, after = 0;
    for (const Placement& p : route.placements) before += p.positions.size();
    for (const Placement& p : full) after += p.positions.size();
    CHECK(before == 60);
    if (std::string(hands) == "person") CHECK(after <= 68);
    const Contact& cycling = profile.contacts[2];
    REQUIRE(cycling.id == "cycling");
    CHECK(read_after_open(profile, cycling, full) >= 3);
  }
}

TEST_CASE("probes stay where they are while a contact is closed again") {
  const Profile profile = load_profile("regulator-shunt-240", {shipped});
  const auto expected = expectations(profile);
  const Route route = plan_route(profile, expected, RouteCost{});
  const auto full = with_closings(profile, expected, route.placements, RouteCost{});
  REQUIRE(full.size() == route.placements.size());
  for (std::size_t i = 0; i < full.size(); ++i) CHECK(full[i].pair == route.placements[i].pair);
}

TEST_CASE("a contact that is never open costs nothing") {
  Profile profile;
  profile.terminals = {"A", "B"};
  profile.positions = {{"off", 0, {}}, {"on", 90, {}}};
  profile.contacts = {{"always", {"A", "B"}, {"off", "on"}, {}}};
  const auto expected = expectations(profile);
  const auto route = plan_route(profile, expected);
  CHECK(places(with_closings(profile, expected, route, RouteCost{})) == places(route));
  CHECK(closings_in(profile, expected, route).at("always") == 1);
}
