#include "switchwright/profile/route.hpp"

#include <doctest/doctest.h>
#include <fmt/format.h>

#include <algorithm>
#include <numeric>
#include <random>
#include <set>

#include "switchwright/core/error.hpp"
#include "switchwright/profile/library.hpp"

using namespace switchwright;

namespace {

const std::filesystem::path shipped = std::filesystem::path(SOURCE_DIR) / "profiles";

/// A part that is nothing but terminals and positions, with the given pairs checked at the given positions.
struct Bare {
  Profile profile;
  std::vector<Expectation> expected;
};
Bare bare(const std::vector<std::string>& terminals, int positions) {
  Bare part;
  part.profile.terminals = terminals;
  for (int i = 0; i < positions; ++i) part.profile.positions.push_back({fmt::format("p{}", i), 10.0 * i, {}});
  return part;
}
void check_at(Bare& part, const Pair& pair, const std::vector<std::size_t>& positions) {
  for (const std::size_t i : positions) {
    Expectation e;
    e.pair = pair;
    e.position = part.profile.positions.at(i).id;
    part.expected.push_back(e);
  }
}
std::vector<std::size_t> all_positions(const Bare& part) {
  std::vector<std::size_t> all(part.profile.positions.size());
  std::iota(all.begin(), all.end(), std::size_t{0});
  return all;
}

/// Random pairs among a few terminals; `uneven` leaves positions out here and there.
Bare random_part(std::mt19937& random, std::size_t pairs, bool uneven) {
  std::vector<std::string> terminals;
  for (int i = 0; i < 8; ++i) terminals.push_back(fmt::format("T{}", i));
  Bare part = bare(terminals, 1 + int(random() % 4));
  std::vector<Pair> all = part.profile.pairs();
  std::shuffle(all.begin(), all.end(), random);
  all.resize(std::min(all.size(), pairs));
  for (const Pair& pair : all) {
    std::vector<std::size_t> positions;
    for (const std::size_t i : all_positions(part))
      if (!uneven || random() % 2 == 0) positions.push_back(i);
    if (positions.empty()) positions.push_back(random() % part.profile.positions.size());
    check_at(part, pair, positions);
  }
  return part;
}

/// The least cost over every order and every direction of each placement, by trying them all.
double brute_force(const Profile& profile, std::vector<Placement> placements, const RouteCost& cost) {
  double least = 1e99;
  std::vector<std::size_t> order(placements.size());
  std::iota(order.begin(), order.end(), std::size_t{0});
  do {
    for (unsigned directions = 0; directions < 1U << order.size(); ++directions) {
      std::vector<Placement> tried;
      for (std::size_t i = 0; i < order.size(); ++i) {
        tried.push_back(placements[order[i]]);
        if (directions >> i & 1U) std::reverse(tried.back().positions.begin(), tried.back().positions.end());
      }
      least = std::min(least, route_cost_s(profile, tried, cost));
    }
  } while (std::next_permutation(order.begin(), order.end()));
  return least;
}

Profile regulator() { return load_profile("regulator-shunt-240", {std::filesystem::path(SOURCE_DIR) / "profiles"}); }
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
  for (std::size_t i = 1; i < route.size(); ++i) CHECK(route[i].positions.front() == route[i - 1].positions.back());
}

TEST_CASE("a placement that is open at every position says so") {
  const Profile profile = regulator();
  for (const Placement& placement : plan_route(profile, expectations(profile)))
    CHECK(placement.open_everywhere == placement.pair.has("CASE"));
}

TEST_CASE("every open reading of every shipped profile has a witness or says that contact must be stated") {
  for (const std::string& id : list_profiles({shipped})) {
    const Profile profile = load_profile(id, {shipped});
    const auto expected = expectations(profile);
    std::size_t opens = 0;
    for (const Placement& placement : plan_route(profile, expected)) {
      bool witnessed = false;  // with the probes left in place, some other position gives a finite reading
      for (const std::string& position : placement.positions)
        witnessed |= expectation(profile, position, placement.pair).state != PairState::open;
      for (const std::string& position : placement.positions)
        opens += expectation(profile, position, placement.pair).state == PairState::open;
      CAPTURE(id);
      CAPTURE(placement.pair.text());
      CHECK(witnessed == !placement.open_everywhere);
    }
    // None is left out of the order.
    CHECK(opens == std::size_t(std::count_if(expected.begin(), expected.end(),
                                             [](const Expectation& e) { return e.state == PairState::open; })));
  }
}

// Moves by hand: 4 s for one probe, 7 s for both, 2 s for a step of the knob.
TEST_CASE("the cost of a route is the sum of its moves") {
  const Bare part = bare({"A", "B", "C", "D"}, 3);
  const std::vector<Placement> route{{Pair("A", "B"), {"p0", "p1", "p2"}, false},
                                     {Pair("B", "C"), {"p2", "p1", "p0"}, false},
                                     {Pair("D", "A"), {"p2"}, false}};
  // two steps; one probe; two steps; both probes and two steps
  CHECK(route_cost_s(part.profile, route, {}) == doctest::Approx(4 + 4 + 4 + 7 + 4));
  CHECK(route_cost_s(part.profile, {}, {}) == 0.0);
}

TEST_CASE("one probe at a time suffices for all pairs of any number of terminals") {
  for (int n = 2; n <= 14; ++n) {
    std::vector<std::string> terminals;
    for (int i = 0; i < n; ++i) terminals.push_back(fmt::format("T{}", i));
    Bare part = bare(terminals, 3);
    for (const Pair& pair : part.profile.pairs()) check_at(part, pair, all_positions(part));
    const Route route = plan_route(part.profile, part.expected, {});
    CAPTURE(n);
    const double pairs = n * (n - 1) / 2;
    CHECK(route.placements.size() == std::size_t(pairs));
    CHECK(route.cost_s == doctest::Approx((pairs - 1) * 4 + pairs * 2 * 2));
    CHECK(route.optimal);
  }
}

TEST_CASE("no order of a few placements is cheaper than the planned one") {
  std::mt19937 random(1962);
  for (int i = 0; i < 60; ++i) {
    Bare part = random_part(random, 2 + random() % 4, i % 2 == 0);
    const RouteCost cost{.move_one_s = 4, .move_both_s = 7, .turn_step_s = i % 3 == 0 ? 0.5 : 5.0};
    const Route route = plan_route(part.profile, part.expected, cost);
    CAPTURE(i);
    CHECK(route.cost_s == doctest::Approx(brute_force(part.profile, naive_route(part.profile, part.expected), cost)));
    CHECK(route.optimal);
    CHECK(route.lower_bound_s == doctest::Approx(route.cost_s));
  }
}

TEST_CASE("ten thousand random orders are never cheaper") {
  std::mt19937 random(2007);
  struct Row {
    std::size_t pairs;
    bool uneven;
  };
  for (const auto& [pairs, uneven] : {Row{5, false}, Row{12, true}, Row{20, false}, Row{24, true}, Row{28, false}}) {
    Bare part = random_part(random, pairs, uneven);
    const Route route = plan_route(part.profile, part.expected, {});
    CHECK(route.lower_bound_s <= route.cost_s + 1e-9);
    CHECK(route.cost_s <= route.naive_cost_s);
    std::vector<Placement> tried = naive_route(part.profile, part.expected);
    CHECK(tried.size() == route.placements.size());
    for (int i = 0; i < 10000; ++i) {
      std::shuffle(tried.begin(), tried.end(), random);
      for (Placement& placement : tried)
        if (random() % 2) std::reverse(placement.positions.begin(), placement.positions.end());
      if (route_cost_s(part.profile, tried, {}) < route.cost_s - 1e-9) FAIL("a random order is cheaper");
    }
  }
}

// Three legs of three placements that meet in one terminal: a walk through neighbours can take two legs, and
// the third must be jumped to. A greedy walk that begins in the middle jumps twice.
TEST_CASE("a pair graph that needs one jump gets exactly one") {
  Bare part = bare({"M", "A1", "A2", "A3", "B1", "B2", "B3", "C1", "C2", "C3"}, 1);
  for (const char* leg : {"A", "B", "C"}) {
    const auto t = [&](int i) { return i == 0 ? fmt::format("M") : fmt::format("{}{}", leg, i); };
    for (int i = 0; i < 3; ++i) check_at(part, Pair(t(i), t(i + 1)), {0});
  }
  const Route route = plan_route(part.profile, part.expected, {});
  CHECK(route.cost_s == doctest::Approx(7 * 4 + 7));
  CHECK(route.optimal);
}

TEST_CASE("twenty placements with positions left out are still ordered exactly") {
  std::mt19937 random(20);
  Bare part = random_part(random, 20, true);
  const Route route = plan_route(part.profile, part.expected, {});
  CHECK(route.placements.size() == 20);
  CHECK(route.optimal);
}

// All 15 pairs at 4 positions. By hand, position by position: 14 moves at each of 4 positions and 3 steps of
// the knob.
TEST_CASE("a scanner turns the knob as seldom as can be and a person moves the probes as seldom as can be") {
  const Profile profile = regulator();
  const auto expected = expectations(profile);
  const Route person = plan_route(profile, expected, load_route_cost("person", {shipped}));
  const Route scanner = plan_route(profile, expected, load_route_cost("scanner", {shipped}));
  CHECK(person.cost_s == doctest::Approx(14 * 4.0 + 15 * 3 * 2.0));
  CHECK(scanner.cost_s == doctest::Approx(4 * 14 * 0.02 + 3 * 3.0));
  CHECK(person.optimal);
  CHECK(scanner.optimal);
  std::set<std::pair<std::string, Pair>> read;
  for (const Placement& placement : scanner.placements)
    for (const std::string& position : placement.positions) CHECK(read.emplace(position, placement.pair).second);
  CHECK(read.size() == 60);
}

TEST_CASE("costs of a person are the same in the file and in the program") {
  const RouteCost file = load_route_cost("person", {shipped});
  const RouteCost program;
  CHECK(file.move_one_s == program.move_one_s);
  CHECK(file.move_both_s == program.move_both_s);
  CHECK(file.turn_step_s == program.turn_step_s);
  CHECK(file.change_function_s == program.change_function_s);
  CHECK(file.stays_on_pair == program.stays_on_pair);
  CHECK_THROWS_AS(load_route_cost("persn", {shipped}), Error);
}

TEST_CASE("files of costs are no profiles") {
  for (const std::string& id : list_profiles({shipped})) CHECK((id != "person" && id != "scanner"));
}

TEST_CASE("nothing to measure is an empty route") {
  const Bare part = bare({"A", "B"}, 2);
  const Route route = plan_route(part.profile, part.expected, {});
  CHECK(route.placements.empty());
  CHECK(route.cost_s == 0.0);
  CHECK(route.optimal);
}
