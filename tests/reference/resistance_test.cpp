// Pair resistances against a circuit simulator and against exact rational arithmetic.
#include <doctest/doctest.h>
#include <fmt/format.h>
#include <unistd.h>

#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <fstream>
#include <limits>
#include <random>

#include "spice.hpp"
#include "switchwright/profile/expectation.hpp"
#include "switchwright/profile/library.hpp"

using namespace switchwright;
using namespace switchwright::reference;

namespace {

constexpr double infinity = std::numeric_limits<double>::infinity();
const std::filesystem::path shipped = std::filesystem::path(SOURCE_DIR) / "profiles";

/// The resistors of a profile, written out here again from the definition of the two bounds, so that the
/// check does not lean on the code it checks.
std::vector<Resistor> bound(const Profile& profile, const std::string& position, bool upper) {
  std::vector<Resistor> all;
  for (const Contact& c : profile.contacts) {
    const double closed = upper ? profile.limits.closed_max_ohm : 0.0;
    const double open = upper ? infinity : profile.limits.open_min_ohm;
    all.push_back({c.id, c.between.first(), c.between.second(), c.conducts_at(position) ? closed : open});
  }
  for (const Element& e : profile.elements) {
    const double share = e.tolerance_pct / 100.0;
    all.push_back({e.id, e.between.first(), e.between.second(), e.nominal_ohm * (upper ? 1.0 + share : 1.0 - share)});
  }
  return all;
}

bool connects(const std::vector<Resistor>& resistors, const std::string& a, const std::string& b) {
  std::vector<std::string> seen{a};
  for (std::size_t i = 0; i < seen.size(); ++i)
    for (const Resistor& r : resistors) {
      if (!std::isfinite(r.ohm)) continue;
      for (const auto& [x, y] : {std::pair(r.from, r.to), std::pair(r.to, r.from)})
        if (x == seen[i] && std::find(seen.begin(), seen.end(), y) == seen.end()) seen.push_back(y);
    }
  return std::find(seen.begin(), seen.end(), b) != seen.end();
}

struct RandomNetwork {
  std::vector<std::string> nodes;
  std::vector<Resistor> resistors;
};

/// A random tree, so that everything is joined, and random chords; values from 10^low to 10^high ohm.
RandomNetwork random_network(std::mt19937& random, double low, double high) {
  std::uniform_real_distribution<double> decade(low, high);
  const auto value = [&] { return std::pow(10.0, decade(random)); };
  RandomNetwork network;
  const std::size_t n = 2 + random() % 8;
  for (std::size_t i = 0; i < n; ++i) network.nodes.push_back(fmt::format("n{}", i));
  const auto join = [&](std::size_t a, std::size_t b) {
    network.resistors.push_back(
        {fmt::format("r{}", network.resistors.size()), network.nodes[a], network.nodes[b], value()});
  };
  for (std::size_t i = 1; i < n; ++i) join(i, random() % i);
  const std::size_t chords = random() % (2 * n);
  for (std::size_t i = 0; i < chords; ++i) {
    const std::size_t a = random() % n;
    const std::size_t b = random() % n;
    if (a != b) join(a, b);
  }
  return network;
}

}  // namespace

TEST_CASE("shipped profiles read as ngspice says at every pair and position and both bounds") {
  if (!has_ngspice()) return;
  std::vector<Question> questions;
  std::vector<std::pair<std::string, double>> ours;
  for (const std::string& id : list_profiles({shipped})) {
    const Profile profile = load_profile(id, {shipped});
    for (const Expectation& expected : expectations(profile))
      for (const bool upper : {false, true}) {
        const std::string& a = expected.pair.first();
        const std::string& b = expected.pair.second();
        const double ohm = upper ? expected.ohm.max : expected.ohm.min;
        const std::string where =
            fmt::format("{} {} {} {}", id, expected.position, expected.pair.text(), upper ? "max" : "min");
        CAPTURE(where);
        const std::vector<Resistor> resistors = bound(profile, expected.position, upper);
        if (!connects(resistors, a, b)) {
          CHECK(ohm == (upper ? infinity : profile.limits.open_min_ohm));
          continue;
        }
        questions.push_back({resistors, a, b});
        ours.emplace_back(where, ohm);
      }
  }
  const std::vector<double> theirs = ngspice_ohm(questions);
  for (std::size_t i = 0; i < ours.size(); ++i) {
    CAPTURE(ours[i].first);
    CHECK(ours[i].second == doctest::Approx(theirs[i]).epsilon(1e-7).scale(1e-6));
  }
  MESSAGE(ours.size() << " pair resistances compared");
}

TEST_CASE("random networks read as ngspice says") {
  if (!has_ngspice()) return;
  std::mt19937 random(1879);
  std::vector<Question> questions;
  std::vector<double> ours;
  for (int i = 0; i < 60; ++i) {
    const RandomNetwork network = random_network(random, 0, 5);
    const Network solved(network.nodes, network.resistors);
    for (std::size_t a = 0; a < network.nodes.size(); ++a)
      for (std::size_t b = a + 1; b < network.nodes.size(); ++b) {
        questions.push_back({network.resistors, network.nodes[a], network.nodes[b]});
        ours.push_back(solved.resistance_ohm(network.nodes[a], network.nodes[b]));
      }
  }
  const std::vector<double> theirs = ngspice_ohm(questions);
  for (std::size_t i = 0; i < ours.size(); ++i) {
    CAPTURE(i);
    CHECK(ours[i] == doctest::Approx(theirs[i]).epsilon(1e-9).scale(0));
  }
  MESSAGE(ours.size() << " pair resistances compared");
}

// From a milliohm to a gigaohm a simulator's own doubles run out (it is right to about 1e-3); rational
// numbers do not.
TEST_CASE("networks from a milliohm to a gigaohm keep twelve digits") {
  std::mt19937 random(1951);
  std::string input;
  std::vector<double> ours;
  for (int i = 0; i < 60; ++i) {
    const RandomNetwork network = random_network(random, -3, 9);
    const Network solved(network.nodes, network.resistors);
    input += fmt::format("net {}\n", network.nodes.size());
    for (const Resistor& r : network.resistors)
      input += fmt::format("{} {} {:a}\n", r.from.substr(1), r.to.substr(1), r.ohm);
    for (std::size_t a = 0; a < network.nodes.size(); ++a)
      for (std::size_t b = a + 1; b < network.nodes.size(); ++b) {
        input += fmt::format("pair {} {}\n", a, b);
        ours.push_back(solved.resistance_ohm(network.nodes[a], network.nodes[b]));
      }
  }
  const std::string stem = fmt::format("{}/exact-{}", BINARY_DIR, getpid());
  std::ofstream(stem + ".in") << input;
  REQUIRE(
      std::system(fmt::format("{0} {1}/tests/reference/exact_resistance.py <{2}.in >{2}.out", PYTHON, SOURCE_DIR, stem)
                      .c_str()) == 0);
  std::ifstream file(stem + ".out");
  for (std::size_t i = 0; i < ours.size(); ++i) {
    double exact = 0.0;
    const bool read = static_cast<bool>(file >> exact);
    REQUIRE(read);
    CAPTURE(i);
    CHECK(std::abs(ours[i] - exact) <= 1e-12 * exact);
  }
  MESSAGE(ours.size() << " pair resistances compared");
  std::filesystem::remove(stem + ".in");
  std::filesystem::remove(stem + ".out");
}
