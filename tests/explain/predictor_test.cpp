#include "explain/predictor.hpp"

#include <doctest/doctest.h>
#include <rapidcheck.h>

#include <cmath>
#include <limits>
#include <string>
#include <vector>

#include "judge/parts.hpp"
#include "switchwright/profile/library.hpp"

using namespace parts;

namespace {

std::vector<std::filesystem::path> profile_folder() { return {std::filesystem::path(SOURCE_DIR) / "profiles"}; }

bool near(double a, double b) {
  if (std::isinf(a) || std::isinf(b)) return a == b;
  return std::abs(a - b) <= 1e-6 + 1e-9 * std::max(a, b);
}

/// The same hypothesis for the profile room, which solves by nodal analysis.
std::vector<Fault> faults_of(const Hypothesis& h) {
  std::vector<Fault> faults;
  for (const Cause& cause : h.causes) {
    faults.push_back(cause.fault);
    if (cause.fault.kind == FaultKind::resistive) faults.back().value = 7.5;
    if (cause.fault.kind == FaultKind::drifted) faults.back().value = 40.0;
  }
  return faults;
}

}  // namespace

TEST_CASE("every single and double fault of every profile is predicted as nodal analysis solves it") {
  FaultPriors priors;
  for (const std::string& id : list_profiles(profile_folder())) {
    const Profile profile = load_profile(id, profile_folder());
    PartValues values;
    values.closed_contact_ohm = 0.05;
    const Predictor predictor(profile, values.closed_contact_ohm);
    std::size_t checked = 0, wrong = 0;
    std::string first_wrong;
    for (const Hypothesis& h : hypotheses(profile, {}, priors)) {
      const std::vector<Fault> faults = faults_of(h);
      const bool shorted = to_string(h).find("shorted") != std::string::npos;
      const Scenario scenario = predictor.scenario(h.causes);
      std::vector<double> unknown_ohm;
      for (const Unknown& u : scenario.unknowns)
        unknown_ohm.push_back(u.kind == Unknown::Kind::resistive_contact ? 7.5
                              : u.kind == Unknown::Kind::drifted_element ? profile.elements[u.part].nominal_ohm * 1.4
                                                                         : u.nominal_ohm);
      const std::vector<Ohms> networks = scenario.solved(unknown_ohm);
      for (std::size_t p = 0; p < profile.positions.size(); ++p) {
        const Network solved = network_of(profile, profile.positions[p].id, values, faults);
        for (const Pair& pair : profile.pairs()) {
          const double predicted = networks[scenario.network_at[p]](scenario.node[predictor.node_index(pair.first())],
                                                                    scenario.node[predictor.node_index(pair.second())]);
          double truth = solved.resistance_ohm(pair.first(), pair.second());
          ++checked;
          // The profile room shorts an element with 0 ohm, the predictor with a closed contact's 0.05 ohm.
          if (!near(predicted, truth) && !(shorted && std::abs(predicted - truth) < 0.11)) {
            ++wrong;
            if (first_wrong.empty()) first_wrong = to_string(h) + " " + pair.text() + " at " + profile.positions[p].id;
          }
        }
      }
    }
    CAPTURE(id);
    CAPTURE(first_wrong);
    CHECK(checked > 40);
    CHECK(wrong == 0);
  }
}

TEST_CASE("resistors added one by one give the closed forms of known networks") {
  // Complete graph of n unit resistors: 2/n between any two (textbook). Cube: 5/6 edge, 3/4 face, 7/12 ... of
  // unit resistors are 7/12 edge, 3/4 face diagonal, 5/6 space diagonal (textbook).
  for (std::size_t n = 2; n <= 8; ++n) {
    Ohms ohms(n);
    for (std::size_t a = 0; a < n; ++a)
      for (std::size_t b = a + 1; b < n; ++b) ohms.add(a, b, 1.0);
    CHECK(ohms(0, n - 1) == doctest::Approx(2.0 / static_cast<double>(n)));
  }
  Ohms cube(8);
  for (std::size_t a = 0; a < 8; ++a)
    for (std::size_t bit : {1u, 2u, 4u})
      if (!(a & bit)) cube.add(a, a | bit, 1.0);
  CHECK(cube(0, 1) == doctest::Approx(7.0 / 12.0));
  CHECK(cube(0, 3) == doctest::Approx(3.0 / 4.0));
  CHECK(cube(0, 7) == doctest::Approx(5.0 / 6.0));
}

TEST_CASE("the resistor that a reading asks for gives that reading") {
  CHECK(rc::check([](const std::vector<std::pair<unsigned, unsigned>>& edges, unsigned c, unsigned d, unsigned a,
                     unsigned b, unsigned r) {
    constexpr std::size_t n = 5;
    Ohms ohms(n);
    for (const auto& [x, y] : edges) ohms.add(x % n, y % n, 1.0 + (x + y) % 97);
    RC_PRE(c % n != d % n && a % n != b % n);
    Ohms with = ohms;
    const double added = 0.5 + r % 1000;
    with.add(c % n, d % n, added);
    const double reading = with(a % n, b % n);
    double slope = 0.0;
    const auto asked = ohms.needed(c % n, d % n, a % n, b % n, reading, slope);
    if (std::isinf(reading) || reading == ohms(a % n, b % n)) return;  // the pair does not feel the resistor
    if (!asked) return;
    RC_ASSERT(std::abs(*asked - added) <= 1e-6 * added + 1e-9 * ohms(a % n, b % n) / std::max(slope, 1e-12));
  }));
}

TEST_CASE("hypotheses come from the network") {
  FaultPriors priors;
  const Profile p = regulator();
  const auto singles = hypotheses(p, {}, priors, false);
  // By hand: good; 3 contacts x 3; 1 element x 3; swaps of 5 terminals 10; a knob that goes round three
  // positions is off by +1 or -1 (+2 is -1): 2; 10 pairs less the 4 that a part joins 6; no contacts that
  // move differently, hence none tied.
  CHECK(singles.size() == 1 + 9 + 3 + 10 + 2 + 6);
  CHECK(singles[0].good());
  CHECK(to_string(singles[0]) == "none");
  CHECK(to_string(singles[1]) == "stuck-closed:line");
  CHECK(in_words(singles[1]) == "contact line stays closed");
  // Every pair of causes, less: two of the same contact 3 x 3, of the element 3, of the knob 1.
  const auto doubles = hypotheses(p, {}, priors, true);
  CHECK(doubles.size() == singles.size() + 30 * 29 / 2 - 9 - 3 - 1);
}

TEST_CASE("another profile is a hypothesis where its terminals and positions are the same") {
  FaultPriors priors;
  const Profile mine = load_profile("regulator-shunt-240", profile_folder());
  const std::vector<Profile> others{mine, load_profile("regulator-shunt-208", profile_folder()), regulator()};
  const auto all = hypotheses(mine, others, priors, false);
  std::vector<std::string> names;
  for (const Hypothesis& h : all)
    if (!h.good() && h.causes[0].kind == CauseKind::other_profile) names.push_back(to_string(h));
  CHECK(names == std::vector<std::string>{"profile:regulator-shunt-208"});
}
