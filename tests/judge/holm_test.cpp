// Holm's relations against figures calculated apart from this code from the same published constants
// (Lorenz number from CODATA k and e; Holm prints 2.4e-8), and against the melting points of the metals.
#include "switchwright/judge/holm.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <numbers>
#include <stdexcept>

using namespace switchwright;

TEST_CASE("the Lorenz number follows from the constants of the SI") {
  const double k = 1.380649e-23;     // J/K, exact (SI 2019)
  const double e = 1.602176634e-19;  // C, exact (SI 2019)
  CHECK(lorenz_number == doctest::Approx(std::numbers::pi * std::numbers::pi / 3.0 * (k / e) * (k / e)).epsilon(1e-7));
}

TEST_CASE("a drop of so many millivolts heats the spot to so many degrees") {
  // Calculated table for a body of 20 degC: mV, degC with L = 2.44e-8 (rounded), degC with L = 2.4e-8 (as Holm prints it).
  struct Row {
    double mv, c, c_printed, digit;
  };
  for (const Row& row :
       {Row{5, 20.4, 20.4, 0.06}, Row{10, 21.7, 21.8, 0.06}, Row{20, 26.9, 27.0, 0.06}, Row{30, 35.3, 35.6, 0.06},
        Row{50, 60.8, 61.5, 0.06}, Row{100, 160.9, 162.9, 0.06}, Row{120, 210.0, 212.6, 0.06},
        Row{130, 235.9, 238.7, 0.06}, Row{200, 431, 436, 0.6}, Row{370, 947, 956, 0.6}, Row{430, 1134, 1145, 0.6}}) {
    CAPTURE(row.mv);
    CHECK(std::abs(spot_temperature_c(row.mv / 1000.0, 20.0, 2.44e-8) - row.c) < row.digit);
    CHECK(std::abs(spot_temperature_c(row.mv / 1000.0, 20.0, 2.4e-8) - row.c_printed) < row.digit);
    CHECK(drop_for_spot_temperature_v(spot_temperature_c(row.mv / 1000.0)) == doctest::Approx(row.mv / 1000.0));
  }
}

TEST_CASE("the melting voltage follows from the melting point") {
  // Calculated column of the same table: V, L rounded, body 20 degC.
  struct Row {
    const char* metal;
    double melting_v;
    double within;  // share by which the figures of the printed tables (from memory) may differ
  };
  for (const Row& row : {Row{"Ag", 0.375, 0.08}, Row{"Cu", 0.414, 0.08}, Row{"Au", 0.408, 0.08}, Row{"W", 1.151, 0.08},
                         Row{"Ni", 0.532, 0.23}, Row{"Pt", 0.631, 0.11}, Row{"Sn", 0.128, 0.08}, Row{"Al", 0.277, 0.09},
                         Row{"Fe", 0.558, 0.08}}) {
    CAPTURE(row.metal);
    const auto metal = contact_metal(row.metal);
    REQUIRE(metal);
    const double calculated = drop_for_spot_temperature_v(metal->melting_k - kelvin_at_0_c);
    CHECK(std::abs(calculated - row.melting_v) < 0.0011);
    CHECK(std::abs(metal->melting_v / calculated - 1.0) < row.within);
    CHECK(metal->softening_v < metal->melting_v);
  }
  CHECK_FALSE(contact_metal("Xx"));
}

TEST_CASE("a clean contact is well under one milliohm per spot") {
  // Calculated: resistivity ohm m, hardness GPa, force N, radius um, resistance mohm.
  struct Row {
    double rho, gpa, n, um, mohm;
  };
  for (const Row& row : {Row{1.59e-8, 0.25, 0.1, 11.3, 0.705}, Row{1.59e-8, 0.25, 0.5, 25.2, 0.315},
                         Row{1.59e-8, 0.25, 1.0, 35.7, 0.223}, Row{1.59e-8, 0.7, 0.5, 15.1, 0.527},
                         Row{1.68e-8, 0.5, 1.0, 25.2, 0.333}}) {
    CAPTURE(row.n);
    const PressedSpot spot = pressed_spot(row.rho, row.gpa * 1e9, row.n);
    CHECK(std::abs(spot.radius_m * 1e6 - row.um) < 0.06);
    CHECK(std::abs(spot.ohm * 1e3 - row.mohm) < 0.0006);
  }
}

TEST_CASE("what cannot be is refused") {
  CHECK_THROWS_AS(spot_temperature_c(-0.1), std::invalid_argument);
  CHECK_THROWS_AS(spot_temperature_c(std::nan("")), std::invalid_argument);
  CHECK_THROWS_AS(spot_temperature_c(0.1, -300.0), std::invalid_argument);
  CHECK_THROWS_AS(drop_for_spot_temperature_v(10.0, 20.0), std::invalid_argument);
  CHECK_THROWS_AS(constriction_ohm(1.6e-8, 0.0), std::invalid_argument);
  CHECK_THROWS_AS(pressed_spot(1.6e-8, 0.0, 1.0), std::invalid_argument);
}
