// Prints how often U holds the true mean on time, for 1 to 100 cycles and correlations from 0 to 0.9: README.md here.
#include <cstdio>
#include <cstdlib>

#include "bench/timing/coverage.hpp"

int main(int argc, char** argv) {
  const int series = argc > 1 ? std::atoi(argv[1]) : 20000;
  std::printf("%d series each; claimed: 95.45 %%\n\n| cycles |", series);
  const double correlations[] = {0.0, 0.3, 0.5, 0.7, 0.8, 0.9};
  for (const double rho : correlations) std::printf(" rho %.1f |", rho);
  std::printf(" U / (sd/sqrt n), rho 0 |\n|---|---|---|---|---|---|---|---|\n");
  for (const int cycles : {1, 2, 3, 4, 5, 6, 8, 10, 15, 20, 30, 50, 100}) {
    std::printf("| %d |", cycles);
    double factor = 0.0;
    for (const double rho : correlations) {
      // One cycle: all that is left is the sampling.
      const auto coverage = switchwright::testing::coverage_of_mean(cycles, rho, series, cycles == 1 ? 0.5 : 0.0);
      if (rho == 0.0) factor = coverage.median_factor;
      std::printf(" %.1f |", 100.0 * coverage.share);
    }
    std::printf(factor > 0.0 ? " %.2f |\n" : " |\n", factor);
    std::fflush(stdout);
  }
}
