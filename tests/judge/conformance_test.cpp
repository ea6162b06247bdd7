#include "switchwright/judge/conformance.hpp"

#include <doctest/doctest.h>
#include <rapidcheck.h>

#include <cmath>
#include <string>
#include <vector>

#include "parts.hpp"

using namespace parts;

TEST_CASE("conformance probabilities agree with JCGM 106") {
  struct Row {
    std::string source;
    double value, u;
    Interval tolerance;
    double probability, within;
  };
  const std::vector<Row> rows{
      {"JCGM 106 7.4, breakdown voltage, upper limit (from memory), Phi(1,40)",
       -5.47,
       0.05,
       {-infinity, -5.40},
       0.9192,
       5e-5},
      {"JCGM 106 7.4, pressure, lower limit (from memory), Phi(2,29)", 509.7, 8.6, {490, infinity}, 0.9890, 5e-5},
      {"JCGM 106 7.4, two-sided (from memory)", 13.6, 1.8, {12.5, 16.3}, 0.6626, 5e-5},
      {"published specific-risk check: 9,8 with u 0,1, limits 9 to 10 -> 0,022 750",
       9.8,
       0.1,
       {9, 10},
       1 - 0.022750,
       5e-7},
      {"published: N(10;0,4), limits 9 to 11 -> 0,012 42 outside", 10, 0.4, {9, 11}, 1 - 0.01242, 5e-6},
      {"published: N(10,5;0,4) -> 0,105 74 outside", 10.5, 0.4, {9, 11}, 1 - 0.10574, 6e-6},
      {"published: N(12;0,4) -> 0,993 79 outside", 12, 0.4, {9, 11}, 1 - 0.99379, 5e-6},
      {"one-sided z 1,64 -> 0,95 (normal table)", 0, 1, {-infinity, 1.64}, 0.95, 6e-4},
      {"one-sided z 2,33 -> 0,99 (normal table)", 0, 1, {-infinity, 2.33}, 0.99, 5e-4},
      {"one-sided z 3,09 -> 0,999 (normal table)", 0, 1, {-infinity, 3.09}, 0.999, 5e-6},
  };
  for (const Row& row : rows) {
    CAPTURE(row.source);
    CHECK(std::abs(conformance_probability(row.value, row.u, row.tolerance) - row.probability) <= row.within);
  }
}

TEST_CASE("a guard band of U leaves a risk below 2.5 percent and none leaves 50 percent") {
  // ILAC-G8 (2009 rule): w = U gives "<2,5 %"; simple acceptance "<50 %". k = 2, limit 1, U 0.2.
  const double u = 0.1, U = 0.2;
  CHECK(1.0 - conformance_probability(1.0 - U, u, {-infinity, 1.0}) == doctest::Approx(0.0228).epsilon(0.002));
  CHECK(1.0 - conformance_probability(1.0, u, {-infinity, 1.0}) == doctest::Approx(0.5));
}

TEST_CASE("the two decision rules differ only within U of a limit") {
  struct Row {
    double value, U;
    Outcome simple, guarded;
  };
  const auto pass = Outcome::pass, fail = Outcome::fail, open = Outcome::undecided;
  // Tolerance 1 to 2.
  const std::vector<Row> rows{
      {1.50, 0.25, pass, pass}, {1.25, 0.25, pass, pass}, {1.20, 0.25, pass, open}, {1.00, 0.25, pass, open},
      {0.99, 0.25, fail, open}, {0.75, 0.25, fail, open}, {0.70, 0.25, fail, fail}, {2.00, 0.25, pass, open},
      {2.25, 0.25, fail, open}, {2.30, 0.25, fail, fail}, {1.50, 0.60, pass, open}, {1.50, 0.00, pass, pass},
  };
  for (const Row& row : rows) {
    CAPTURE(row.value);
    CAPTURE(row.U);
    CHECK(decide(row.value, row.U, {1.0, 2.0}, DecisionRule::simple) == row.simple);
    CHECK(decide(row.value, row.U, {1.0, 2.0}, DecisionRule::guarded) == row.guarded);
  }
  CHECK(decide(std::nan(""), 0.1, {1.0, 2.0}, DecisionRule::simple) == open);
  CHECK(decide(1.5, std::nan(""), {1.0, 2.0}, DecisionRule::guarded) == open);
}

TEST_CASE("the guarded rule never passes what simple fails nor fails what simple passes") {
  CHECK(rc::check([](int value, unsigned U, int a, int b) {
    const Interval tolerance{static_cast<double>(std::min(a, b)), static_cast<double>(std::max(a, b))};
    const double x = value, w = U % 100;
    const auto simple = decide(x, w, tolerance, DecisionRule::simple);
    const auto guarded = decide(x, w, tolerance, DecisionRule::guarded);
    if (guarded == Outcome::pass) RC_ASSERT(simple == Outcome::pass);
    if (guarded == Outcome::fail) RC_ASSERT(simple == Outcome::fail);
    RC_ASSERT(simple != Outcome::undecided);
  }));
}

TEST_CASE("a reading moved deeper inside never gets a worse answer") {
  const auto worth = [](Outcome o) { return o == Outcome::pass ? 2 : o == Outcome::undecided ? 1 : 0; };
  CHECK(rc::check([&](int value, unsigned U, unsigned half, unsigned step) {
    const Interval tolerance{-static_cast<double>(half % 500), static_cast<double>(half % 500)};
    const double x = value % 1000, w = U % 200;
    // The centre is 0; move towards it without passing it.
    const double nearer = std::copysign(std::max(std::abs(x) - step % 300, 0.0), x);
    for (const auto rule : {DecisionRule::simple, DecisionRule::guarded})
      RC_ASSERT(worth(decide(nearer, w, tolerance, rule)) >= worth(decide(x, w, tolerance, rule)));
  }));
}

TEST_CASE("U never falls when the reading or a contribution grows") {
  CHECK(rc::check([](unsigned a, unsigned b, unsigned percent, unsigned digits, unsigned drift) {
    const double small = std::min(a, b) % 400 * 0.1, large = small + (std::max(a, b) % 100) * 0.1;
    const double p = percent % 50 * 0.1, d = digits % 20;
    const auto meter = meter_of({{Quantity::resistance, 1e4, 0.1, p, d}});
    const auto worse = meter_of({{Quantity::resistance, 1e4, 0.1, p + 0.1, d + 1}});
    const auto U = [&](const MeterDefinition& m, double x, const Leads* leads) {
      return uncertainty_of(m, Quantity::resistance, x, 0.1, leads).U;
    };
    RC_ASSERT(U(meter, large, nullptr) >= U(meter, small, nullptr));
    RC_ASSERT(U(worse, small, nullptr) >= U(meter, small, nullptr));
    Leads still, drifting;
    still.before = still.after = drifting.before = reads(0.2);
    drifting.after = reads(0.2 + drift % 10 * 0.1);
    RC_ASSERT(U(meter, small, &still) >= U(meter, small, nullptr));
    RC_ASSERT(U(meter, small, &drifting) >= U(meter, small, &still));
  }));
}
