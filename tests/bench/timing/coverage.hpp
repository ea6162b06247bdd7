// How often does U hold the truth? Series of cycles whose true mean is known, with neighbours that are alike to any
// degree, go through the same figures as a record does. Fixed seeds.
#pragma once

#include <cmath>
#include <cstdint>
#include <random>

#include "switchwright/cycle/summary.hpp"

namespace switchwright::testing {

struct Coverage {
  double share = 0.0;        ///< of the series whose U holds the true mean on time
  double median_factor = 0;  ///< median of U over sd / sqrt(n): what k amounts to, widening and all
};

/// `series` series of `cycles` cycles each: on times with mean 12 s and a standard deviation of 0.6 s, each following
/// the one before with the correlation `rho` (first order), off times of 18 s alike. One cycle has no spread that could be
/// seen: its U is for that cycle alone, so there the truth is that cycle.
/// @param edge_s each instant of switching is seen within this interval only
inline Coverage coverage_of_mean(int cycles, double rho, int series, double edge_s = 0.0,
                                 std::uint64_t seed = 20261125) {
  std::mt19937_64 engine{seed + static_cast<std::uint64_t>(cycles) * 1000 + static_cast<std::uint64_t>(rho * 100)};
  std::normal_distribution<double> normal;
  std::uniform_real_distribution<double> within{-0.5, 0.5};
  CycleSettings settings;
  settings.clock_accuracy = 0.0;
  int held = 0;
  std::vector<double> factors;
  for (int k = 0; k < series; ++k) {
    Summarizer summarizer{settings};
    double on_x = normal(engine), off_x = normal(engine), true_on_s = 12.0;
    double previous = within(engine) * edge_s, start_s = 0.0;
    for (int i = 0; i < cycles; ++i) {
      const double fall = within(engine) * edge_s, rise = within(engine) * edge_s;
      const double on_s = 12.0 + 0.6 * on_x, off_s = 18.0 + 0.9 * off_x;
      if (cycles == 1) true_on_s = on_s;
      Cycle cycle;
      cycle.index = static_cast<std::uint64_t>(i) + 1;
      cycle.start_s = start_s;
      cycle.on_s = on_s + fall - previous;
      cycle.off_s = off_s + rise - fall;
      cycle.period_s = cycle.on_s + cycle.off_s;
      cycle.duty = cycle.on_s / cycle.period_s;
      cycle.rise_interval_s = cycle.fall_interval_s = cycle.next_rise_interval_s = edge_s;
      cycle.follows_on = i > 0;
      summarizer.add(cycle);
      previous = rise;
      start_s += on_s + off_s;
      on_x = rho * on_x + std::sqrt(1.0 - rho * rho) * normal(engine);
      off_x = rho * off_x + std::sqrt(1.0 - rho * rho) * normal(engine);
    }
    CycleSummary summary;
    summarizer.report(summary, true);
    const Figure& on = summary.all.on_s;
    held += std::abs(*on.mean - true_on_s) <= *on.U ? 1 : 0;
    if (on.sd) factors.push_back(*on.U / (*on.sd / std::sqrt(static_cast<double>(cycles))));
  }
  return {static_cast<double>(held) / series, factors.empty() ? 0.0 : quantile_of(factors, 0.5)};
}

}  // namespace switchwright::testing
