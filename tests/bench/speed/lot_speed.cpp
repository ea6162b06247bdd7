// Made-up lots per second for the empirical curve of a plan. Run: lot_speed [LOTS]; prints one JSON object per plan.
// tests/bench/speed/lot_speed.py runs it and sets it against numpy.
#include <fmt/format.h>

#include <chrono>
#include <cstdlib>

#include "switchwright/lot/simulation.hpp"

int main(int argc, char** argv) {
  using namespace switchwright;
  const long lots = argc > 1 ? std::atol(argv[1]) : 200'000;
  struct Case {
    const char* name;
    long lot_size;
    StagedPlan plan;
    double p;
  };
  for (const Case& c : {Case{"32 of 200, 1/2", 200, StagedPlan::single(32, 1), 0.015},
                        Case{"125 of 2000, 3/4", 2000, StagedPlan::single(125, 3), 0.02},
                        Case{"80 + 80 of 2000, 1/4, 4/5", 2000, {80, 1, 4, 80, 4}, 0.02}}) {
    const auto begin = std::chrono::steady_clock::now();
    const EmpiricalPoint tried = try_plan(c.plan, c.lot_size, c.p, lots, 1);
    const double seconds = std::chrono::duration<double>(std::chrono::steady_clock::now() - begin).count();
    fmt::print(
        "{{\"plan\":\"{}\",\"lot_size\":{},\"n1\":{},\"accept1\":{},\"reject1\":{},\"n2\":{},\"accept2\":{},\"p\":{},\"accepted\":{:.6f},\"lots_per_s\":{:.0f}}}\n",
        c.name, c.lot_size, c.plan.n1, c.plan.accept1, c.plan.reject1, c.plan.n2, c.plan.accept2, c.p, tried.share(),
        static_cast<double>(lots) / seconds);
  }
}
