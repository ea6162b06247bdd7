// What must hold for every series: checked on random ones (RapidCheck).
#include <doctest/doctest.h>

#include <cmath>

#include "series.hpp"
#include "skip.hpp"

#ifdef HAVE_RAPIDCHECK
#include <rapidcheck.h>

using namespace switchwright;
using namespace switchwright::testing;

namespace {

constexpr double interval_s = 0.25;

/// Cycles of random length (`shortest` to 59 samples each half) with noise of a twentieth of the step, drawn
/// by RapidCheck. No half is shorter than a tenth of any other: below a tenth of the typical dwell a pulse is
/// a blip and no cycle (CycleSettings::min_dwell_s), and a series of one cycle and a blip has none to speak
/// of.
std::vector<Sample> random_series(int shortest = 6) {
  std::vector<Hold> holds{{interval_s * *rc::gen::inRange(shortest, 60), 0}};
  const int cycles = *rc::gen::inRange(1, 20);
  for (int i = 0; i <= cycles; ++i) {
    holds.push_back({interval_s * *rc::gen::inRange(shortest, 60), 100});
    holds.push_back({interval_s * *rc::gen::inRange(shortest, 60), 0});
  }
  auto samples = sampled(holds, interval_s);
  std::mt19937 engine(static_cast<unsigned>(*rc::gen::inRange(0, 1 << 30)));
  std::uniform_real_distribution<double> noise(-5, 5);
  for (Sample& sample : samples) sample.value += noise(engine);
  return samples;
}

bool same_times(const std::vector<Cycle>& a, const std::vector<Cycle>& b) {
  if (a.size() != b.size()) return false;
  for (std::size_t i = 0; i < a.size(); ++i)
    if (a[i].start_s != b[i].start_s || a[i].on_s != b[i].on_s || a[i].off_s != b[i].off_s) return false;
  return true;
}

std::vector<Cycle> cycles_of(const std::vector<Sample>& samples) {
  Heard heard;
  analyze(samples, {}, &heard);
  return heard.cycles;
}

}  // namespace

TEST_CASE("the period is exactly on plus off and the duty their share") {
  CHECK(rc::check([] {
    const auto cycles = cycles_of(random_series());
    RC_ASSERT(!cycles.empty());
    for (const Cycle& cycle : cycles) {
      RC_ASSERT(cycle.period_s == cycle.on_s + cycle.off_s);
      RC_ASSERT(cycle.duty == cycle.on_s / cycle.period_s);
      RC_ASSERT(cycle.on_s > 0.0);
      RC_ASSERT(cycle.off_s > 0.0);
    }
    for (std::size_t i = 1; i < cycles.size(); ++i)
      if (cycles[i].follows_on)
        RC_ASSERT(std::abs(cycles[i - 1].start_s + cycles[i - 1].period_s - cycles[i].start_s) < 1e-9);
  }));
}

TEST_CASE("scaling and shifting a signal changes no times") {
  CHECK(rc::check([] {
    const auto samples = random_series();
    const double scale = std::exp(*rc::gen::inRange(-90, 90) / 10.0);
    const double shift = *rc::gen::inRange(0, 300) * scale;
    auto changed = samples;
    for (Sample& sample : changed) sample.value = sample.value * scale + shift;
    RC_ASSERT(same_times(cycles_of(samples), cycles_of(changed)));
  }));
}

TEST_CASE("moving a series in time moves its cycles and changes no durations") {
  CHECK(rc::check([] {
    const auto samples = random_series();
    const double by_s = *rc::gen::inRange(0, 1 << 20);  // binary fractions: exact
    auto moved = samples;
    for (Sample& sample : moved) sample.t_s += by_s;
    const auto a = cycles_of(samples), b = cycles_of(moved);
    RC_ASSERT(a.size() == b.size());
    for (std::size_t i = 0; i < a.size(); ++i) {
      RC_ASSERT(a[i].start_s + by_s == b[i].start_s);
      RC_ASSERT(a[i].on_s == b[i].on_s);
    }
  }));
}

TEST_CASE("asking for figures in the middle of the feed changes nothing") {
  CHECK(rc::check([] {
    const auto samples = random_series();
    const auto cut = static_cast<std::size_t>(*rc::gen::inRange(0, static_cast<int>(samples.size())));
    Survey survey;
    for (std::size_t i = 0; i < samples.size(); ++i) {
      if (i == cut) (void)survey.result();
      survey.feed(samples[i]);
    }
    Heard heard;
    Analyzer analyzer(survey.result(), {}, &heard);
    for (std::size_t i = 0; i < samples.size(); ++i) {
      if (i == cut) (void)analyzer.so_far();
      analyzer.feed(samples[i]);
    }
    const CycleSummary parts = analyzer.finish(), whole = analyze(samples);
    RC_ASSERT(same_times(heard.cycles, cycles_of(samples)));
    RC_ASSERT(parts.complete_cycles == whole.complete_cycles);
    RC_ASSERT(parts.all.duty.mean == whole.all.duty.mean);
    RC_ASSERT(parts.steady_from_cycle == whole.steady_from_cycle);
  }));
}

TEST_CASE("a gap in a steady state shorter than the shortest dwell keeps the cycle") {
  CHECK(rc::check([] {
    const auto samples = random_series(12);
    Heard heard;
    analyze(samples, {}, &heard);
    const auto& cycles = heard.cycles;
    RC_ASSERT(!cycles.empty());
    double shortest_s = 1e9;
    for (std::size_t i = 1; i < heard.edges.size(); ++i)
      shortest_s = std::min(shortest_s, heard.edges[i].t_s - heard.edges[i - 1].t_s);
    const Cycle& hit = cycles[static_cast<std::size_t>(*rc::gen::inRange(0, static_cast<int>(cycles.size())))];
    const bool on = *rc::gen::arbitrary<bool>();
    const double from_s = on ? hit.start_s : hit.start_s + hit.on_s, length_s = on ? hit.on_s : hit.off_s;
    // At least two samples of the dwell stay on either side; the hole (between the samples left) is shorter
    // than any dwell.
    const double hole_s = std::min(length_s - 4 * interval_s, shortest_s - 2 * interval_s);
    RC_PRE(hole_s > 4 * interval_s);
    auto holed = samples;
    const double begin_s = from_s + 2 * interval_s;
    std::erase_if(holed, [&](const Sample& s) { return s.t_s > begin_s && s.t_s < begin_s + hole_s; });
    RC_ASSERT(same_times(cycles, cycles_of(holed)));
  }));
}

TEST_CASE("a pulse below a tenth of the typical dwell is a blip and one above is a cycle") {
  CHECK(rc::check([] {
    const int typical = *rc::gen::inRange(40, 200), last = *rc::gen::inRange(2, 30);
    std::vector<Hold> holds{{typical * interval_s, 0}};
    for (int i = 0; i < 6; ++i) {
      holds.push_back({typical * interval_s, 100});
      holds.push_back({typical * interval_s, 0});
    }
    holds.push_back({last * interval_s, 100});
    holds.push_back({typical * interval_s, 0});
    Heard heard;
    const CycleSummary s = analyze(sampled(holds, interval_s), {}, &heard);
    RC_ASSERT(s.blips == (10 * last < typical ? 1u : 0u));
    RC_ASSERT(heard.cycles.size() == (10 * last < typical ? 5u : 6u));
  }));
}

TEST_CASE("no series of nonsense breaks the analysis") {
  CHECK(rc::check([](std::vector<std::pair<double, double>> points) {
    std::vector<Sample> samples;
    for (const auto& [t_s, value] : points) {
      const int kind = *rc::gen::inRange(0, 12);
      samples.push_back({t_s, value,
                         kind == 0   ? SampleKind::over_range
                         : kind == 1 ? SampleKind::under_range
                                     : SampleKind::finite});
    }
    samples.push_back({std::nan(""), std::nan("")});
    samples.push_back({HUGE_VAL, -HUGE_VAL});
    const CycleSummary s = analyze(samples);
    RC_ASSERT(s.complete_cycles <= samples.size());
  }));
}
#else
TEST_CASE("properties of random series") { test::skip("RapidCheck is not installed (librapidcheck-dev)"); }
#endif
