#include "switchwright/profile/route.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <set>

#include "switchwright/profile/library.hpp"

using namespace switchwright;

namespace {
Profile regulator() {
  return load_profile("regulator-shunt-240", {std::filesystem::path(SOURCE_DIR) / "profiles"});
}
}  // namespace

TEST_CASE("every checked pair is visited once at all its positions") {
  Profile profile = regulator();
  profile.not_checked.push_back({Pair("L1", "P"), {"off"}, "lamp"});
  profile.not_checked.push_back({Pair("H2", "CASE"), {}, "bonded"});
  const auto route = plan_route(profile, expectations(profile));
  CHECK(route.size() == 14);
  std::set<Pair> seen;
  for (const Placement& placement : route) {
    CHECK(seen.insert(placement.pair).second);
    CHECK(placement.positions.size() == (placement.pair == Pair("L1", "P") ? 3 : 4));
  }
  CHECK_FALSE(seen.contains(Pair("H2", "CASE")));
}

TEST_CASE("one probe moves at a time when all pairs are measured") {
  const Profile profile = regulator();
  const auto route = plan_route(profile, expectations(profile));
  REQUIRE(route.size() == 15);
  for (std::size_t i = 1; i < route.size(); ++i) {
    CAPTURE(route[i - 1].pair.text());
    CAPTURE(route[i].pair.text());
    CHECK_FALSE(route[i].pair.shared_with(route[i - 1].pair).empty());
  }
}

TEST_CASE("the knob goes on from where the last placement left it") {
  const Profile profile = regulator();
  const auto route = plan_route(profile, expectations(profile));
  for (std::size_t i = 1; i < route.size(); ++i)
    CHECK(route[i].positions.front() == route[i - 1].positions.back());
}

TEST_CASE("a placement that is open at every position says so") {
  const Profile profile = regulator();
  for (const Placement& placement : plan_route(profile, expectations(profile)))
    CHECK(placement.open_everywhere == placement.pair.has("CASE"));
}
