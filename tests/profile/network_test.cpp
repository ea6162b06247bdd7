#include "switchwright/profile/network.hpp"

#include <doctest/doctest.h>
#include <fmt/format.h>
#include <rapidcheck.h>

#include <cmath>
#include <limits>
#include <stdexcept>

using namespace switchwright;

namespace {

constexpr double infinity = std::numeric_limits<double>::infinity();

std::string node(int i) { return fmt::format("n{}", i); }

std::vector<std::string> nodes(int count) {
  std::vector<std::string> all;
  for (int i = 0; i < count; ++i) all.push_back(node(i));
  return all;
}

Resistor between(int a, int b, double ohm) { return {fmt::format("r{}-{}", a, b), node(a), node(b), ohm}; }

/// Values as switches have them: from a milliohm contact to a gigaohm of insulation, none at all, or a dead
/// short.
rc::Gen<double> any_ohm() {
  return rc::gen::map(rc::gen::inRange(-31, 92), [](int tenth_decades) {
    if (tenth_decades == -31) return 0.0;
    if (tenth_decades == 91) return infinity;
    return std::pow(10.0, tenth_decades / 10.0);
  });
}

}  // namespace

// By symmetry: current 1 into one node spreads evenly; a classic of network theory. Two nodes of the complete
// graph of n nodes with unit resistors: 2/n.
TEST_CASE("any two nodes of a complete graph of unit resistors read 2 over n") {
  for (int n = 2; n <= 20; ++n) {
    std::vector<Resistor> resistors;
    for (int i = 0; i < n; ++i)
      for (int j = i + 1; j < n; ++j) resistors.push_back(between(i, j, 1.0));
    const Network network(nodes(n), resistors);
    for (int i = 0; i < n; ++i)
      for (int j = 0; j < n; ++j) {
        CAPTURE(n);
        CHECK(network.resistance_ohm(node(i), node(j)) == doctest::Approx(i == j ? 0.0 : 2.0 / n).epsilon(1e-13));
      }
  }
}

// The cube of unit resistors: 7/12 along an edge, 3/4 across a face, 5/6 through the body (classic, by
// symmetry).
TEST_CASE("the cube of unit resistors reads 7/12 and 3/4 and 5/6") {
  std::vector<Resistor> edges;
  for (int corner = 0; corner < 8; ++corner)
    for (int axis = 1; axis < 8; axis *= 2)
      if (!(corner & axis)) edges.push_back(between(corner, corner | axis, 1.0));
  const Network cube(nodes(8), edges);
  const double by_distance[] = {0.0, 7.0 / 12.0, 3.0 / 4.0, 5.0 / 6.0};
  for (int a = 0; a < 8; ++a)
    for (int b = 0; b < 8; ++b) {
      CAPTURE(a);
      CAPTURE(b);
      CHECK(cube.resistance_ohm(node(a), node(b)) ==
            doctest::Approx(by_distance[__builtin_popcount(unsigned(a ^ b))]).epsilon(1e-13));
    }
}

// A-C 1, A-D 2, C-B 3, D-B 4, bridge C-D 5. Star for the triangle A C D: 1*2/8, 1*5/8, 2*5/8, so the pair A-B
// is 1/4 + (5/8 + 3) parallel (10/8 + 4) = 170/71 (calculated by hand).
TEST_CASE("an unbalanced bridge reads what the star for its triangle gives") {
  const Network bridge(
      {"A", "B", "C", "D"},
      {{"1", "A", "C", 1}, {"2", "A", "D", 2}, {"3", "C", "B", 3}, {"4", "D", "B", 4}, {"5", "C", "D", 5}});
  CHECK(bridge.resistance_ohm("A", "B") == doctest::Approx(170.0 / 71.0).epsilon(1e-14));
}

TEST_CASE("zero ohm joins and infinity parts") {
  const Network network({"A", "B", "C", "D", "E"},
                        {{"1", "A", "B", 0}, {"2", "B", "C", 0}, {"3", "C", "D", infinity}, {"4", "D", "E", 7}});
  CHECK(network.resistance_ohm("A", "C") == 0.0);
  CHECK(std::isinf(network.resistance_ohm("A", "D")));
  CHECK(network.resistance_ohm("E", "D") == 7.0);
  CHECK(network.resistance_ohm("E", "E") == 0.0);
}

// Series and parallel by hand. A factorisation with subtractions keeps about four digits of these.
TEST_CASE("a milliohm beside a gigaohm keeps its digits wherever it stands") {
  const Network chain({"A", "B", "C", "D"}, {{"1", "A", "B", 1e-3}, {"2", "B", "C", 1e9}, {"3", "C", "D", 2e-3}});
  CHECK(chain.resistance_ohm("A", "B") == doctest::Approx(1e-3).epsilon(1e-14));
  CHECK(chain.resistance_ohm("C", "D") == doctest::Approx(2e-3).epsilon(1e-14));
  CHECK(chain.resistance_ohm("B", "C") == doctest::Approx(1e9).epsilon(1e-14));
  CHECK(chain.resistance_ohm("A", "D") == doctest::Approx(1e9 + 3e-3).epsilon(1e-15));

  // Two stiff islands of three nodes each, joined by two gigaohm paths: 1e9 / 2 between them, to within the
  // milliohms.
  const Network islands({"A", "B", "C", "X", "Y", "Z"}, {{"1", "A", "B", 1e-3},
                                                         {"2", "B", "C", 1e-3},
                                                         {"3", "C", "A", 1e-3},
                                                         {"4", "X", "Y", 1e-3},
                                                         {"5", "Y", "Z", 1e-3},
                                                         {"6", "Z", "X", 1e-3},
                                                         {"7", "A", "X", 1e9},
                                                         {"8", "B", "Y", 1e9}});
  CHECK(islands.resistance_ohm("A", "B") == doctest::Approx(2e-3 / 3).epsilon(1e-11));
  CHECK(islands.resistance_ohm("C", "Z") == doctest::Approx(5e8).epsilon(1e-11));
}

TEST_CASE("a network that is none is refused") {
  using R = std::vector<Resistor>;
  CHECK_THROWS_AS(Network({"A", "A"}, R{}), std::invalid_argument);
  CHECK_THROWS_AS(Network({"A"}, (R{{"1", "A", "B", 1}})), std::invalid_argument);
  CHECK_THROWS_AS(Network({"A", "B"}, (R{{"1", "A", "B", -1}})), std::invalid_argument);
  CHECK_THROWS_AS(Network({"A", "B"}, (R{{"1", "A", "B", std::nan("")}})), std::invalid_argument);
  CHECK_THROWS_AS(Network({"A", "B"}, R{}).resistance_ohm("A", "C"), std::out_of_range);
}

// Rayleigh's monotonicity law, the ground that expected intervals stand on.
TEST_CASE("no pair resistance falls when a resistor rises") {
  CHECK(rc::check("monotonicity", [] {
    const int n = *rc::gen::inRange(2, 9);
    const auto count = *rc::gen::inRange<std::size_t>(1, 20);
    std::vector<Resistor> resistors;
    for (std::size_t i = 0; i < count; ++i)
      resistors.push_back(between(*rc::gen::inRange(0, n), *rc::gen::inRange(0, n), *any_ohm()));
    const Network before(nodes(n), resistors);
    Resistor& raised = resistors[*rc::gen::inRange<std::size_t>(0, count)];
    raised.ohm = std::max(raised.ohm, *any_ohm());
    const Network after(nodes(n), resistors);
    for (int a = 0; a < n; ++a)
      for (int b = 0; b < n; ++b) {
        const double low = before.resistance_ohm(node(a), node(b));
        const double high = after.resistance_ohm(node(a), node(b));
        RC_ASSERT(low >= 0.0);
        RC_ASSERT(high >= low * (1.0 - 1e-12));
        RC_ASSERT(before.resistance_ohm(node(b), node(a)) == low);
      }
  }));
}

TEST_CASE("names and their order do not change a reading") {
  CHECK(rc::check("order", [] {
    const int n = *rc::gen::inRange(2, 8);
    const auto count = *rc::gen::inRange<std::size_t>(1, 16);
    std::vector<Resistor> resistors;
    for (std::size_t i = 0; i < count; ++i)
      resistors.push_back(between(*rc::gen::inRange(0, n), *rc::gen::inRange(0, n), *any_ohm()));
    auto backwards = nodes(n);
    std::reverse(backwards.begin(), backwards.end());
    const Network one(nodes(n), resistors);
    const Network other(backwards, resistors);
    for (int a = 0; a < n; ++a)
      for (int b = 0; b < n; ++b) {
        const double x = one.resistance_ohm(node(a), node(b));
        const double y = other.resistance_ohm(node(a), node(b));
        if (std::isinf(x))
          RC_ASSERT(std::isinf(y));
        else
          RC_ASSERT(std::abs(x - y) <= 1e-12 * x);
      }
  }));
}
