// Builds the series that the tests feed: steps drawn at stated instants, sampled at stated times, invented.
#pragma once

#include <cstdint>
#include <functional>
#include <random>
#include <vector>

#include "switchwright/cycle/analyzer.hpp"

namespace switchwright::testing {

/// Holds `value` for `for_s`.
struct Hold {
  double for_s;
  double value;
};

/// Samples of consecutive holds, every `interval_s` from `start_s`; a sample on a boundary shows the new
/// value.
inline std::vector<Sample> sampled(const std::vector<Hold>& holds, double interval_s, double start_s = 0.0) {
  std::vector<Sample> samples;
  double end_s = 0.0;
  std::uint64_t i = 0;
  for (const Hold& hold : holds) {
    end_s += hold.for_s;
    for (; static_cast<double>(i) * interval_s < end_s - 1e-9; ++i)
      samples.push_back({start_s + static_cast<double>(i) * interval_s, hold.value});
  }
  return samples;
}

/// off, then n times on and off, then on: n complete cycles.
inline std::vector<Hold> cycling(int n, double on_s, double off_s, double high = 230.0, double low = 0.0) {
  std::vector<Hold> holds{{off_s, low}};
  for (int i = 0; i < n; ++i) {
    holds.push_back({on_s, high});
    holds.push_back({off_s, low});
  }
  holds.push_back({on_s, high});
  return holds;
}

inline void add_noise(std::vector<Sample>& samples, double sd, unsigned seed = 1) {
  std::mt19937 engine(seed);
  std::normal_distribution<double> noise(0.0, sd);
  for (Sample& sample : samples) sample.value += noise(engine);
}

/// Keeps everything it hears.
struct Heard : CycleListener {
  std::vector<Cycle> cycles;
  std::vector<CycleEvent> events;
  std::vector<Edge> edges;
  void on_cycle(const Cycle& cycle) override { cycles.push_back(cycle); }
  void on_event(const CycleEvent& event) override { events.push_back(event); }
  void on_edge(const Edge& edge) override { edges.push_back(edge); }
  int count(CycleEventKind kind) const {
    int n = 0;
    for (const CycleEvent& event : events) n += event.kind == kind ? 1 : 0;
    return n;
  }
};

}  // namespace switchwright::testing
