// What U of a mean claims is kept, whatever the number of cycles and however alike neighbours are.
#include "bench/timing/coverage.hpp"

#include <doctest/doctest.h>

using namespace switchwright;
using namespace switchwright::testing;

TEST_CASE("U holds the true mean as often as it says with few cycles or many and with neighbours that are alike") {
  // 95.45 % is claimed. 1500 series are known to 0.7 % at 93 %: two of that are allowed beneath 93 %. With 3 to 10
  // cycles a correlation cannot be told from none, so that for values without one U is wider than it need be.
  for (const int cycles : {2, 3, 4, 5, 8, 10, 20, 50, 100})
    for (const double rho : {0.0, 0.5, 0.7, 0.9}) {
      CAPTURE(cycles);
      CAPTURE(rho);
      const double share = coverage_of_mean(cycles, rho, 1500).share;
      CHECK(share > 0.93 - 0.014);
      CHECK(share < (cycles < 15 ? 1.0 : 0.99 + 0.008));
    }
}

TEST_CASE("U holds the true mean beside a sampling that is coarser or finer than the spread") {
  // The standard deviation is 0.6 s; sampling leaves 0.04 s to 0.8 s open in one on time.
  for (const double edge_s : {0.1, 0.5, 1.0, 2.0})
    for (const int cycles : {5, 10, 20, 50})
      for (const double rho : {0.0, 0.7, 0.9}) {
        CAPTURE(edge_s);
        CAPTURE(cycles);
        CAPTURE(rho);
        CHECK(coverage_of_mean(cycles, rho, 800, edge_s).share > 0.93 - 0.018);
      }
}

TEST_CASE("U of a single cycle holds that cycle") {
  // Each instant is rectangular in 0.5 s, so the error of the on time is triangular: |x| <= 2 u holds with
  // 1 - (1 - 2 / sqrt(6))^2 = 96.6 %.
  CHECK(coverage_of_mean(1, 0.0, 4000, 0.5).share == doctest::Approx(0.966).epsilon(0.01));
}

TEST_CASE("the variance of a mean of alike neighbours is what the series of correlations says") {
  // n = 4, rho taken at 0.88: F = 1 + 2 (3/4 0.88 + 2/4 0.7744 + 1/4 0.6815) = 3.4351; sample variance too small by
  // 1 - 2.4351 / 3 = 0.1883; u = sd sqrt(3.4351 / 4 / 0.1883) = 2.1356 sd (by hand).
  const TypeA alike = type_a_of_mean(4, 1.0, 0.9);
  CHECK(alike.u == doctest::Approx(2.1356).epsilon(1e-3));
  CHECK(alike.n_effective == doctest::Approx(4 / 3.4351).epsilon(1e-4));
  // Neighbours that are surely not alike: JCGM 100 4.2.3 as it stands.
  const TypeA independent = type_a_of_mean(100, 2.0, -0.3);
  CHECK(independent.u == doctest::Approx(0.2));
  CHECK(independent.nu == doctest::Approx(99.0));
}
