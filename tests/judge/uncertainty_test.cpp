#include "switchwright/judge/uncertainty.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <string>
#include <vector>

#include "parts.hpp"

using namespace parts;

namespace {

/// Equal to the digits printed: the printed value has `decimals` decimals.
bool prints_as(double value, double printed, int decimals) {
  const double scale = std::pow(10.0, decimals);
  return std::llround(value * scale) == std::llround(printed * scale);
}

}  // namespace

TEST_CASE("limits of error agree with printed worked examples") {
  struct Row {
    std::string source;
    Quantity quantity;
    double full_scale, digit, percent, digits, reading, limit;
    int decimals;
  };
  const std::vector<Row> rows{
      {"upper-secondary physics textbook: 20 V range, +/-(0,5 % + 10 d), 12,36 V -> 0,16 V", Quantity::voltage_dc, 20,
       0.01, 0.5, 10, 12.36, 0.16, 2},
      {"same textbook: 200 mA range, digit 0,1 mA, +/-(1,5 % + 10 d), 15,7 mA -> 1,2 mA", Quantity::current_dc, 0.2,
       1e-4, 1.5, 10, 15.7e-3, 1.2e-3, 4},
      {"common practice, no source: +/-(0,7 % + 2 counts), 120 V, 0,1 V digit -> 118,96 to 121,04 V",
       Quantity::voltage_ac, 600, 0.1, 0.7, 2, 120.0, 121.04 - 120.0, 2},
      {"two-wire ohms, arithmetic done apart from this program: 0,3 ohm, 0,1 ohm digit, 0,8 % + 5 d -> 0,502 "
       "ohm",
       Quantity::resistance, 400, 0.1, 0.8, 5, 0.3, 0.502, 3},
  };
  for (const Row& row : rows) {
    CAPTURE(row.source);
    const auto meter = meter_of({{row.quantity, row.full_scale, row.digit, row.percent, row.digits}});
    const auto budget = uncertainty_of(meter, row.quantity, row.reading, row.digit);
    CHECK(prints_as(budget.limit_of_error, row.limit, row.decimals));
  }
}

TEST_CASE("budgets agree with figures computed apart from this program") {
  // Arithmetic of JCGM 100 4.3.7 and F.2.2.1 by hand, k = 2.
  struct Row {
    std::string what;
    Quantity quantity;
    double full_scale, digit, percent, digits, reading, a, u_accuracy, u_resolution, u, U;
  };
  const std::vector<Row> rows{
      {"12,36 V", Quantity::voltage_dc, 20, 0.01, 0.5, 10, 12.36, 0.1618, 0.093415, 0.002887, 0.093460, 0.186920},
      {"120,0 V", Quantity::voltage_ac, 600, 0.1, 0.7, 2, 120.0, 1.0400, 0.600444, 0.028868, 0.601138, 1.202276},
      {"240,0 V", Quantity::voltage_ac, 600, 0.1, 1.0, 3, 240.0, 2.7000, 1.558846, 0.028868, 1.559113, 3.118226},
      {"0,30 ohm", Quantity::resistance, 600, 0.01, 0.5, 3, 0.30, 0.0315, 0.018187, 0.002887, 0.018414, 0.036828},
  };
  for (const Row& row : rows) {
    CAPTURE(row.what);
    const auto meter = meter_of({{row.quantity, row.full_scale, row.digit, row.percent, row.digits}});
    const auto budget = uncertainty_of(meter, row.quantity, row.reading, row.digit);
    CHECK(prints_as(budget.limit_of_error, row.a, 4));
    CHECK(prints_as(budget.u_accuracy, row.u_accuracy, 6));
    CHECK(prints_as(budget.u_resolution, row.u_resolution, 6));
    CHECK(prints_as(budget.u, row.u, 6));
    CHECK(prints_as(budget.U, row.U, 6));
    CHECK(budget.u_leads == 0.0);
    CHECK(budget.specified);
  }
}

TEST_CASE("one digit alone is 0.29 of a digit") {
  // JCGM 100 F.2.2.1: u = 0,29 d.
  MeterDefinition silent;
  const auto budget = uncertainty_of(silent, Quantity::resistance, 0.3, 0.1);
  CHECK_FALSE(budget.specified);
  CHECK(budget.u == doctest::Approx(0.1 / std::sqrt(12.0)));
  CHECK(prints_as(budget.u_resolution / 0.1, 0.29, 2));
}

TEST_CASE("leads are subtracted as their mean and add their own uncertainty and drift") {
  Leads leads;
  CHECK(leads.correction_ohm() == 0.0);
  CHECK(leads.drift_ohm() == 0.0);
  leads.before = reads(0.20, 0.01);
  CHECK(leads.correction_ohm() == doctest::Approx(0.20));
  leads.after = reads(0.26, 0.01);
  CHECK(leads.correction_ohm() == doctest::Approx(0.23));
  CHECK(leads.drift_ohm() == doctest::Approx(0.06));

  // By hand: a(0.20) = 0.031, a(0.26) = 0.0313; u = sqrt(a^2/3 + 0.01^2/12) = 0.018129, 0.018299; mean
  // 0.018214; drift 0.06/sqrt(12) = 0.017321; together 0.025135. Reading 0.50: a = 0.0325, u = 0.018985; all:
  // 0.031499; the probes' own contact, 0.02/sqrt(3) = 0.011547: 0.033549.
  const auto budget = uncertainty_of(finer(), Quantity::resistance, 0.50, 0.01, &leads);
  CHECK(prints_as(budget.u_leads, 0.025135, 5));
  CHECK(prints_as(budget.u, 0.033549, 5));
  CHECK(budget.U == doctest::Approx(2.0 * budget.u));
}

TEST_CASE("the spread of the readings while they settled counts as it is") {
  // JCGM 100 4.2.2, not divided by the root of n: the readings of one window are not independent. By hand: digits of
  // 0.01 ohm, a(0.30) = 0.0315, u = 0.018414; with a standard deviation of 0.05: sqrt(0.018414^2 + 0.05^2) = 0.053283.
  Indication restless = reads(0.30, 0.01);
  restless.spread = 0.05;
  CHECK(prints_as(uncertainty_of(finer(), restless).u, 0.053283, 5));
}

TEST_CASE("a zero below zero is subtracted as it is and an over-range lead reading subtracts nothing") {
  Leads leads;
  leads.before = reads(-0.1);
  CHECK(leads.correction_ohm() == doctest::Approx(-0.1));
  leads.before = over_range();
  leads.after = reads(0.3);
  CHECK(leads.correction_ohm() == doctest::Approx(0.3));
  CHECK(leads.drift_ohm() == 0.0);
}
