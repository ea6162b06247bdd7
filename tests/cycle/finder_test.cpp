// Reference instants, gaps, blips and settling: the rules one by one.
#include <doctest/doctest.h>

#include <cmath>
#include <set>

#include "series.hpp"

using namespace switchwright;
using namespace switchwright::testing;

namespace {

/// Takes away what lies in [from, to) seconds.
std::vector<Sample> without(std::vector<Sample> samples, double from_s, double to_s) {
  std::erase_if(samples, [&](const Sample& s) { return s.t_s >= from_s && s.t_s < to_s; });
  return samples;
}

}  // namespace

TEST_CASE("one microsecond on and three off at 1 GHz for 40 us gives nine duties of a quarter") {
  // Published worked example (duty cycle of a pulse train, IEEE Std 181 definitions): a pulse centred at
  // every 4 us; the cut-off first pulse and the last one without successor give none. Nine values of 0.2500.
  std::vector<Sample> samples;
  for (int i = 0; i <= 40000; ++i) {
    const int phase = (i + 500) % 4000;  // in nanoseconds, the pulse is 500 either side of each multiple of 4000
    samples.push_back({i * 1e-9, phase < 1000 ? 1.0 : 0.0});
  }
  Heard heard;
  analyze(samples, {}, &heard);
  REQUIRE(heard.cycles.size() == 9);
  for (const Cycle& cycle : heard.cycles) CHECK(std::abs(cycle.duty - 0.25) < 5e-5);
}

TEST_CASE("a resolved ramp is interpolated and a lone intermediate sample is not") {
  // Trapezoid: 4 s ramps sampled every second cross 50 % between samples; by hand the crossings lie 2 s into
  // each ramp.
  std::vector<Sample> samples;
  for (int i = 0; i < 400; ++i) {
    const double t_s = i, phase = std::fmod(t_s + 0.3, 40.0);
    const double v = phase < 4 ? phase / 4 : phase < 20 ? 1 : phase < 24 ? (24 - phase) / 4 : 0;
    samples.push_back({t_s, 100 * v});
  }
  Heard heard;
  analyze(samples, {}, &heard);
  REQUIRE(heard.cycles.size() >= 8);
  for (const Edge& edge : heard.edges) CHECK(edge.interpolated);
  for (const Cycle& cycle : heard.cycles) {
    CHECK(cycle.on_s == doctest::Approx(20.0).epsilon(1e-9));
    CHECK(std::fmod(cycle.start_s + 0.3, 40.0) == doctest::Approx(2.0).epsilon(1e-9));
  }
  Heard lone;
  analyze(sampled({{10, 0}, {1, 40}, {10, 100}, {1, 40}, {10, 0}, {10, 100}, {10, 0}, {10, 100}}, 1), {}, &lone);
  REQUIRE(!lone.edges.empty());
  CHECK_FALSE(lone.edges.front().interpolated);
  CHECK(lone.edges.front().t_s == 10.5);
}

TEST_CASE("noise near the reference does not make edges") {
  auto samples = sampled(cycling(20, 30, 30, 100), 0.1);
  // Slow edges: five samples around half, up and down within the hysteresis.
  for (std::size_t i = 1; i + 5 < samples.size(); ++i)
    if (std::abs(samples[i].value - samples[i - 1].value) == 100) {
      for (std::size_t j = 0; j < 5; ++j) samples[i + j].value = j % 2 == 0 ? 53 : 47;
      i += 5;
    }
  CHECK(analyze(samples).complete_cycles == 20);
  CHECK(analyze(samples).blips == 0);
}

TEST_CASE("a gap breaks a cycle only when an excursion could hide in it or the state differs across it") {
  // 8 s on and 12 s off from t = 12: on at 12..20, 32..40, 52..60, ...
  struct Row {
    const char* what;
    double from_s, to_s;
    std::uint64_t complete, flagged;
  };
  const Row rows[] = {
      {"none", 0, 0, 10, 0},
      {"short, inside the on time", 54, 58, 10, 1},
      {"short, inside the off time", 62, 67, 10, 1},
      {"across a falling edge: that cycle has no off edge", 58, 62, 9, 0},
      {"across a rising edge: neither cycle knows it", 70, 74, 8, 0},
      {"as long as the shortest dwell, inside the off time", 61, 70.5, 9, 0},
      {"a whole cycle lost", 54, 75, 8, 0},
  };
  const auto samples = sampled(cycling(10, 8, 12), 0.25);
  for (const Row& row : rows) {
    CAPTURE(row.what);
    Heard heard;
    const CycleSummary s = analyze(without(samples, row.from_s, row.to_s), {}, &heard);
    CHECK(s.gaps == (row.to_s > row.from_s ? 1 : 0));
    CHECK(heard.count(CycleEventKind::gap) == static_cast<int>(s.gaps));
    CHECK(s.complete_cycles == row.complete);
    CHECK(s.flagged_cycles == row.flagged);
    CHECK(s.incomplete_cycles + s.complete_cycles >= 9);
    // What is counted was really drawn.
    for (const Cycle& cycle : heard.cycles) {
      CHECK(std::abs(cycle.on_s - 8) <= 0.25);
      CHECK(std::abs(cycle.off_s - 12) <= 0.25);
    }
  }
}

TEST_CASE("a clock set back is an event and the cycle across it is not counted") {
  auto samples = sampled(cycling(10, 8, 12), 0.25);
  for (auto& s : samples)
    if (s.t_s >= 84) s.t_s -= 3600;  // summer time ends at 84 s, in an on time
  Heard heard;
  const CycleSummary s = analyze(samples, {}, &heard);
  CHECK(s.clock_steps == 1);
  CHECK(s.complete_cycles == 9);
  CHECK(heard.count(CycleEventKind::clock_step) == 1);
  for (const Cycle& cycle : heard.cycles) CHECK(cycle.period_s == doctest::Approx(20.0));
}

TEST_CASE("two swapped rows are not a clock set back") {
  auto samples = sampled(cycling(10, 8, 12), 0.25);
  std::swap(samples[100], samples[101]);
  const CycleSummary s = analyze(samples);
  CHECK(s.clock_steps == 0);
  CHECK(s.out_of_order_stamps == 1);
  CHECK(s.complete_cycles == 10);
}

TEST_CASE("a blip is an event and its time belongs to the state around it") {
  auto samples = sampled(cycling(10, 80, 120), 1);
  for (std::size_t i = 240; i < 243; ++i) samples[i].value = 230;  // off from 200 to 320
  Heard heard;
  const CycleSummary s = analyze(samples, {}, &heard);
  CHECK(s.complete_cycles == 10);
  CHECK(s.blips == 1);
  REQUIRE(heard.count(CycleEventKind::blip) == 1);
  for (const CycleEvent& event : heard.events)
    if (event.kind == CycleEventKind::blip) {
      CHECK(event.high);
      CHECK(event.t_s == 239.5);
      CHECK(event.duration_s == 3);
    }
  CHECK(heard.cycles[0].blips == 1);
  CHECK(heard.cycles[0].off_s == 120);
  // The same three samples count when the caller allows so short a dwell.
  CycleSettings settings;
  settings.min_dwell_s = 1.0;
  CHECK(analyze(samples, settings).complete_cycles == 11);
}

TEST_CASE("pulses sampled too coarsely give a reason, and the period alone") {
  // 1.4 s on and 2.4 s off sampled every second.
  const CycleSummary s = analyze(sampled(cycling(60, 1.4, 2.4), 1.0));
  CHECK_FALSE(s.trusted);
  REQUIRE(!s.reasons.empty());
  CHECK(s.reasons.front().find("too coarse") != std::string::npos);
  CHECK_FALSE(s.all.on_s.mean);
  REQUIRE(s.all.period_s.U);
  CHECK(std::abs(*s.all.period_s.mean - 3.8) <= *s.all.period_s.U);
  // One sample per pulse.
  CHECK_FALSE(analyze(sampled(cycling(60, 0.9, 9.4), 1.0)).trusted);
}

TEST_CASE("sampling uncertainty agrees with the published table") {
  // Rectangular in one reading interval per edge: u(width) = dt / sqrt(6); u(duty) for one cycle = u(width) /
  // period.
  struct Row {
    double period_s, interval_s, u_width_s, u_duty;
  };
  for (const Row& row : {Row{20, 0.25, 0.102, 0.0051}, Row{20, 1, 0.408, 0.0204}, Row{40, 0.5, 0.204, 0.0051},
                         Row{60, 1, 0.408, 0.0068}}) {
    CAPTURE(row.period_s);
    const CycleSummary s = analyze(sampled(cycling(12, row.period_s / 2, row.period_s / 2), row.interval_s));
    CHECK(*s.all.on_s.u_sampling == doctest::Approx(row.u_width_s).epsilon(0.005));
    CHECK(*s.all.duty.u_sampling == doctest::Approx(row.u_duty).epsilon(0.005));
    // End to end: dt sqrt(2) / (n sqrt(12)).
    CHECK(*s.all.period_s.u_sampling ==
          doctest::Approx(row.interval_s * std::sqrt(2.0) / (12 * std::sqrt(12.0))).epsilon(1e-9));
  }
}

TEST_CASE("the expanded uncertainty covers the drawn duration") {
  // 200 records of 10 cycles with random phase against sampling and random cycle-to-cycle spread: U with k =
  // 2 must cover the drawn mean nearly always (at least 95 of 100).
  std::mt19937 engine(21);
  std::uniform_real_distribution<double> phase(0, 1);
  std::normal_distribution<double> spread(0, 0.3);
  int covered = 0;
  for (int record = 0; record < 200; ++record) {
    std::vector<Hold> holds{{5 + phase(engine), 0}};
    double on_s = 0;
    for (int i = 0; i < 10; ++i) {
      const double one_s = 8 + spread(engine);
      on_s += one_s / 10;
      holds.push_back({one_s, 230});
      holds.push_back({12 + spread(engine), 0});
    }
    holds.push_back({5, 230});
    const CycleSummary s = analyze(sampled(holds, 1.0));
    REQUIRE(s.complete_cycles == 10);
    covered += std::abs(*s.all.on_s.mean - on_s) <= *s.all.on_s.U ? 1 : 0;
  }
  CHECK(covered >= 190);
}

TEST_CASE("warm-up is found and left out of the steady figures") {
  auto holds = cycling(20, 8, 12);
  holds[1].for_s = 80;
  CycleSummary s = analyze(sampled(holds, 0.1));
  CHECK(*s.steady_from_cycle == 2);
  CHECK(*s.steady.on_s.max < 9);
  CHECK(*s.all.on_s.max > 79);
  CHECK(s.steady.cycles == 19);
  // Dying away over several cycles: 8 + 12 e^(-i/2) is within 5 % of 8 from the eighth cycle on.
  holds = cycling(40, 8, 12);
  for (std::size_t i = 0; i < 40; ++i) holds[1 + 2 * i].for_s = 8 + 12 * std::exp(-static_cast<double>(i) / 2);
  s = analyze(sampled(holds, 0.05));
  CHECK(*s.steady_from_cycle >= 6);
  CHECK(*s.steady_from_cycle <= 14);
  CHECK_FALSE(s.drifting);
  // Even from the start, and too few to tell.
  CHECK(*analyze(sampled(cycling(20, 8, 12), 0.1)).steady_from_cycle == 1);
  CHECK_FALSE(analyze(sampled(cycling(3, 8, 12), 0.1)).steady_from_cycle);
  // Never steady.
  holds = cycling(40, 8, 12);
  for (std::size_t i = 0; i < 40; ++i) holds[1 + 2 * i].for_s = 6 + 0.2 * static_cast<double>(i);
  s = analyze(sampled(holds, 0.05));
  CHECK_FALSE(s.steady_from_cycle);
  CHECK(s.drifting);
  CHECK(s.all.on_s.trend->p < 0.001);
  CHECK(s.all.on_s.trend->slope == doctest::Approx(0.2).epsilon(0.02));
}

TEST_CASE("more cycles than memory keeps give the same figures") {
  auto holds = cycling(20000, 8, 12);
  holds[1].for_s = 80;
  const CycleSummary s = analyze(sampled(holds, 0.5));
  CHECK(s.complete_cycles == 20000);
  CHECK(s.steady.cycles == 19999);
  CHECK(*s.steady_from_cycle == 2);
  CHECK(*s.all.on_s.median == doctest::Approx(8).epsilon(0.01));
  CHECK(*s.steady.on_s.mean == doctest::Approx(8).epsilon(1e-6));
}

TEST_CASE("a live stream ends with the figures of the two passes") {
  for (const double high : {230.0, 5.0}) {
    auto samples = sampled(cycling(30, 8, 12, high, 0.02 * high), 0.25);
    add_noise(samples, 0.004 * high);
    LiveAnalyzer live;
    for (const Sample& sample : samples) live.feed(sample);
    const CycleSummary a = live.finish(), b = analyze(samples);
    CHECK(a.complete_cycles == b.complete_cycles);
    CHECK(*a.all.on_s.mean == *b.all.on_s.mean);
    CHECK(*a.all.duty.sd == *b.all.duty.sd);
  }
}

TEST_CASE("what came at once after a gap has no time of its own") {
  // Sampled ten times a second; for 3 s nothing was read, then thirty samples come with one stamp. The edge among them
  // happened at any time in the gap: no cycle is counted on it.
  std::vector<Sample> samples = sampled(cycling(10, 8, 12), 0.1);
  const double stalled_s = 12.0 + 20.0 * 4 + 7.0, until_s = stalled_s + 3.0;  // the falling edge at 8 s lies in it
  for (Sample& sample : samples)
    if (sample.t_s > stalled_s && sample.t_s < until_s) sample.t_s = until_s;
  const CycleSummary s = analyze(samples);
  CHECK(s.gaps == 1);
  CHECK(s.incomplete_cycles == 1);
  CHECK(s.complete_cycles == 9);
  CHECK(*s.all.on_s.min == doctest::Approx(8.0).epsilon(0.02));
  CHECK(*s.all.on_s.max == doctest::Approx(8.0).epsilon(0.02));
}
