// Series as real appliances give them. Each row names what is nasty about it and what must come out: the
// number of complete cycles and their on and off times follow from how the series was drawn. All series are
// invented.
#include <doctest/doctest.h>

#include <cmath>
#include <string>

#include "series.hpp"

using namespace switchwright;
using namespace switchwright::testing;

namespace {

struct Row {
  std::string name;
  std::vector<Sample> samples;
  std::uint64_t cycles;
  std::optional<double> on_s, off_s;  ///< median expected, within one sampling interval
  ChannelState state = ChannelState::cycling;
  CycleSettings settings = {};
  double within_s = 0.0;  ///< 0: one sampling interval
};

std::vector<Sample> with(std::vector<Sample> samples, const std::function<void(std::vector<Sample>&)>& change) {
  change(samples);
  return samples;
}

std::vector<Sample> inrush(double interval_s, int spike_samples, double factor) {
  std::vector<Hold> holds{{600, 1.0}};
  for (int i = 0; i < 12; ++i) {
    holds.push_back({interval_s * spike_samples, 90.0 * factor});
    holds.push_back({900 - interval_s * spike_samples, 90.0});
    holds.push_back({1500, 1.0});
  }
  holds.push_back({900, 90.0});
  auto samples = sampled(holds, interval_s);
  add_noise(samples, 0.4);
  return samples;
}

std::vector<Row> rows() {
  std::vector<Row> t;
  t.push_back({"clean square", sampled(cycling(10, 8, 12), 0.25), 10, 8, 12});
  t.push_back(
      {"noise on both levels", with(sampled(cycling(30, 8, 12), 0.25), [](auto& s) { add_noise(s, 8); }), 30, 8, 12});
  t.push_back({"one inrush sample ten times the level", inrush(10, 1, 10), 12, 900, 1500});
  t.push_back({"three inrush samples eight times the level", inrush(5, 3, 8), 12, 900, 1500});
  t.push_back({"inrush sampled once a minute", inrush(60, 1, 6), 12, 900, 1500});
  {
    std::vector<Hold> holds{{36000, 1.2}};
    for (int i = 0; i < 3; ++i) {
      holds.push_back({180, 2000});
      holds.push_back({86400 - 180, 1.2});
    }
    holds.push_back({180, 2000});
    auto s = sampled(holds, 10);
    add_noise(s, 0.3);
    t.push_back({"rare pulses: three minutes a day", s, 3, 180, 86220});
  }
  {
    std::vector<Hold> holds{{20000, 1}};
    for (int i = 0; i < 5; ++i) {
      holds.push_back({9000, 8});
      holds.push_back({9000, 1});
      holds.push_back({150, 2000});
      holds.push_back({9000, 3});
    }
    holds.push_back({150, 2000});
    // on 150, off 9000 + 9000 + 9000 between pulses
    t.push_back({"standby moves between 1 and 8 while the heater takes 2000", sampled(holds, 10), 5, 150, 27000});
  }
  t.push_back({"off level drifts to a quarter of the on level",
               with(sampled(cycling(20, 8, 12, 100, 0), 0.25),
                    [](auto& s) {
                      for (std::size_t i = 0; i < s.size(); ++i)
                        if (s[i].value == 0) s[i].value = 25.0 * static_cast<double>(i) / static_cast<double>(s.size());
                    }),
               20, 8, 12});
  t.push_back({"on level sinks by a third while the compressor warms",
               with(sampled(cycling(20, 300, 600, 120, 1), 5),
                    [](auto& s) {
                      double since = 0;
                      for (auto& x : s) {
                        since = x.value > 50 ? since + 5 : 0;
                        if (x.value > 50) x.value = 80 + 40 * std::exp(-since / 60);
                      }
                    }),
               20, 300, 600});
  {
    std::vector<Hold> holds{{60, 2}};
    for (int i = 0; i < 10; ++i) {
      holds.push_back({30, 1000});
      holds.push_back({30, 2000});
      holds.push_back({120, 2});
    }
    holds.push_back({60, 1000});
    t.push_back({"two on-levels one after the other", sampled(holds, 1), 10, 60, 120});
  }
  {
    std::vector<Hold> holds{{60, 2}};
    for (int i = 0; i < 10; ++i) {
      holds.push_back({40, i % 2 == 0 ? 800.0 : 2000.0});
      holds.push_back({120, 2});
    }
    holds.push_back({40, 800});
    t.push_back({"two on-levels in turn: 40 percent and full", sampled(holds, 1), 10, 40, 120});
  }
  t.push_back({"digits of a steady mains voltage",
               with(sampled({{600, 230.1}}, 0.5),
                    [](auto& s) {
                      for (std::size_t i = 0; i < s.size(); ++i) s[i].value = (i / 7) % 2 != 0 ? 230.1 : 230.2;
                    }),
               0,
               {},
               {},
               ChannelState::always_on});
  t.push_back({"a mains voltage that sags two percent with the load",
               sampled(cycling(20, 8, 12, 236, 241), 0.5),
               0,
               {},
               {},
               ChannelState::always_on});
  t.push_back({"standby noise around zero",
               with(sampled({{3600, 0.0}}, 1), [](auto& s) { add_noise(s, 0.12); }),
               0,
               {},
               {},
               ChannelState::always_off});
  t.push_back({"standby noise in watts",
               with(sampled({{3600, 2.0}}, 1), [](auto& s) { add_noise(s, 0.7); }),
               0,
               {},
               {},
               ChannelState::always_off,
               CycleSettings{.dead_below = 5.0}});
  t.push_back({"last digit of a dead channel",
               with(sampled({{600, 0.0}}, 0.5),
                    [](auto& s) {
                      for (std::size_t i = 0; i < s.size(); ++i) s[i].value = (i / 20) % 3 == 0 ? 0.1 : 0.0;
                    }),
               0,
               {},
               {},
               ChannelState::always_off,
               CycleSettings{.resolution = 0.1}});
  t.push_back({"never off",
               with(sampled({{3600, 1500}}, 1), [](auto& s) { add_noise(s, 15); }),
               0,
               {},
               {},
               ChannelState::always_on});
  t.push_back({"never on, with lone spikes",
               with(sampled({{3600, 0.0}}, 1),
                    [](auto& s) {
                      s[500].value = 300;
                      s[1900].value = 180;
                    }),
               0,
               {},
               {},
               ChannelState::always_off});
  t.push_back({"every stamp twice",
               with(sampled(cycling(10, 8, 12), 0.25),
                    [](auto& s) {
                      std::vector<Sample> d;
                      for (const auto& x : s) d.insert(d.end(), {x, x});
                      s = d;
                    }),
               10, 8, 12});
  t.push_back({"four samples a second stamped in whole seconds",
               with(sampled(cycling(10, 8, 12), 0.25),
                    [](auto& s) {
                      for (auto& x : s) x.t_s = std::floor(x.t_s);
                    }),
               10,
               8,
               12,
               ChannelState::cycling,
               {},
               1.0});
  t.push_back({"irregular intervals",
               with(sampled(cycling(20, 30, 45), 0.1),
                    [](auto& s) {
                      std::mt19937 e(3);
                      std::uniform_real_distribution<double> wait(0.05, 1.95);
                      std::vector<Sample> d;
                      for (double t_s = 0; t_s < s.back().t_s; t_s += 0.05 + wait(e))
                        d.push_back({t_s, s[static_cast<std::size_t>(t_s * 10)].value});
                      s = d;
                    }),
               20,
               30,
               45,
               ChannelState::cycling,
               {},
               2.0});
  t.push_back({"one intermediate sample at every edge",
               with(sampled(cycling(10, 8, 12, 100), 0.25),
                    [](auto& s) {
                      for (std::size_t i = 1; i < s.size(); ++i)
                        if (std::abs(s[i].value - s[i - 1].value) == 100) {
                          s[i].value = 37;
                          ++i;
                        }
                    }),
               10, 8, 12});
  t.push_back({"blips of three samples in both states",
               with(sampled(cycling(20, 80, 120), 1),
                    [](auto& s) {
                      for (const std::size_t at : {430u, 440u, 460u, 540u, 590u, 1400u})
                        for (std::size_t i = at; i < at + 3; ++i) s[i].value = 230 - s[i].value;
                    }),
               20, 80, 120});
  {
    auto holds = cycling(11, 8, 12);
    holds[1].for_s = 80;
    holds[2].for_s = 120;
    t.push_back({"first cycle ten times as long", sampled(holds, 0.25), 11, 8, 12});
  }
  {
    auto holds = cycling(6, 8, 12);
    holds.pop_back();
    t.push_back({"last cycle unfinished", sampled(holds, 0.25), 5, 8, 12});
  }
  t.push_back(
      {"begins in the on state", sampled({{5, 230}, {12, 0}, {8, 230}, {12, 0}, {8, 230}, {3, 0}}, 0.25), 1, 8, 12});
  t.push_back({"a pulse that never repeats", sampled({{60, 1}, {180, 2000}, {600, 1}}, 1), 0, {}, {}});
  t.push_back({"over-range samples while on",
               with(sampled(cycling(10, 8, 12), 0.25),
                    [](auto& s) {
                      for (std::size_t i = 0; i < s.size(); i += 5)
                        if (s[i].value > 100) s[i] = {s[i].t_s, 0.0, SampleKind::over_range};
                    }),
               10, 8, 12});
  t.push_back({"ohms of a contact: closed 0.3, open beyond the range",
               with(sampled(cycling(10, 8, 12, 1, 0.3), 0.25),
                    [](auto& s) {
                      for (auto& x : s)
                        if (x.value == 1) x = {x.t_s, 0.0, SampleKind::over_range};
                    }),
               10, 8, 12});
  t.push_back({"a corrupt value of a thousand million",
               with(sampled(cycling(10, 8, 12), 0.25), [](auto& s) { s[333].value = 1e9; }), 10, 8, 12});
  t.push_back({"logic zero and one", sampled(cycling(10, 8, 12, 1, 0), 0.25), 10, 8, 12, ChannelState::cycling,
               CycleSettings{.resolution = 1.0}});
  t.push_back({"a base load under the cycling one", sampled(cycling(10, 300, 600, 2300, 300), 5), 10, 300, 600});
  return t;
}

}  // namespace

TEST_CASE("nasty series give the cycles that were drawn") {
  for (const Row& row : rows()) {
    CAPTURE(row.name);
    Heard heard;
    const CycleSummary s = analyze(row.samples, row.settings, &heard);
    CAPTURE(s.low_level.value_or(-1));
    CAPTURE(s.high_level.value_or(-1));
    CAPTURE(s.blips);
    CAPTURE(s.incomplete_cycles);
    CHECK(to_string(s.state) == to_string(row.state));
    CHECK(s.complete_cycles == row.cycles);
    CHECK(heard.cycles.size() == row.cycles);
    CHECK(s.trusted);
    const double within_s = row.within_s > 0 ? row.within_s : 1.001 * s.interval_s.value_or(0.0);
    if (row.on_s) {
      CHECK(s.all.on_s.median);
      if (!s.all.on_s.median) continue;
      CHECK(std::abs(*s.all.on_s.median - *row.on_s) <= within_s);
      CHECK(std::abs(*s.all.off_s.median - *row.off_s) <= within_s);
    } else {
      CHECK_FALSE(s.all.on_s.mean);
      CHECK_FALSE(s.all.duty.U);
    }
  }
}

namespace {

/// An invented appliance of random make, with the truth about it. Features that tell against each other (an
/// off level that climbs to the height of a second on-level) do not meet in one appliance.
struct Appliance {
  std::vector<Sample> samples;
  int cycles = 0;
  double mean_on_s = 0.0;
  double interval_s = 0.0;
  std::string what;
};

Appliance random_appliance(unsigned seed) {
  std::mt19937 engine(seed);
  const auto uniform = [&](double a, double b) { return std::uniform_real_distribution<double>(a, b)(engine); };
  const auto normal = [&](double sd) { return sd > 0 ? std::normal_distribution<double>(0, sd)(engine) : 0.0; };
  const auto chance = [&](double p) { return uniform(0, 1) < p; };
  Appliance a;
  a.interval_s = std::pow(10, uniform(-1, 1.1));
  const double dt = a.interval_s, high = std::pow(10, uniform(-0.5, 3.4)),
               low = chance(.5) ? 0 : high * uniform(0, 0.08);
  const double on_s = dt * uniform(25, 200), off_s = on_s * uniform(0.3, 8), spread = uniform(0, 0.12);
  const double noise = high * uniform(0, 0.03), digit = high / uniform(60, 1000);
  const bool inrush = chance(.4), sinks = chance(.3), two = chance(.25), quantised = chance(.5), jitter = chance(.3),
             averaging = chance(.3), moves = !two && chance(.3), warm_up = chance(.3), stray = chance(.1);
  const double inrush_factor = uniform(2, 12);
  const int inrush_samples = 1 + static_cast<int>(uniform(0, 2.99));
  a.cycles = 3 + static_cast<int>(uniform(0, 30));
  struct Part {
    double from_s, to_s;
    bool on, half;
  };
  std::vector<Part> parts{{0, off_s * uniform(.5, 1), false, false}};
  const auto then = [&](double for_s, bool on, bool half) {
    parts.push_back({parts.back().to_s, parts.back().to_s + for_s, on, half});
  };
  for (int i = 0; i < a.cycles; ++i) {
    const double one_on_s = std::max(on_s * (1 + normal(spread)), 15 * dt) * (warm_up && i == 0 ? 8 : 1);
    a.mean_on_s += one_on_s / a.cycles;
    then(one_on_s, true, two && i % 2 != 0);
    then(std::max(off_s * (1 + normal(spread)), 8 * dt), false, false);
  }
  then(on_s, true, false);
  const double end_s = parts.back().to_s;
  const auto level = [&](double t_s, std::size_t part) {
    const Part& p = parts[part];
    if (!p.on) return low + (moves ? high * 0.2 * t_s / end_s : 0.0);
    const double since_s = t_s - p.from_s;
    double value = high * (p.half ? 0.5 : 1.0);
    if (sinks) value *= 0.75 + 0.25 * std::exp(-since_s / (on_s / 3));
    return inrush && since_s < inrush_samples * dt ? value * inrush_factor : value;
  };
  std::size_t part = 0;
  for (double t_s = 0; t_s < end_s; t_s += jitter ? dt * uniform(.6, 1.4) : dt) {
    while (part + 1 < parts.size() && t_s >= parts[part].to_s) ++part;
    double value = level(t_s, part);
    if (averaging) {  // over the interval before
      value = 0;
      for (int i = 0; i < 8; ++i) {
        const double at_s = std::max(0.0, t_s - dt * (i + .5) / 8);
        std::size_t then_part = part;
        while (then_part > 0 && at_s < parts[then_part].from_s) --then_part;
        value += level(at_s, then_part) / 8;
      }
    }
    value += normal(parts[part].on ? noise : low * 0.2);
    if (quantised) value = std::round(value / digit) * digit;
    if (stray && chance(0.0005)) value = 6553.5 * high;
    a.samples.push_back({t_s, value});
  }
  a.what = std::string(inrush ? "inrush " : "") + (sinks ? "sinks " : "") + (two ? "two " : "") +
           (quantised ? "digits " : "") + (jitter ? "jitter " : "") + (averaging ? "averaging " : "") +
           (moves ? "moves " : "") + (warm_up ? "warm-up " : "") + (stray ? "stray " : "");
  return a;
}

}  // namespace

TEST_CASE("random appliances give the cycles that were drawn") {
  for (unsigned seed = 1; seed <= 400; ++seed) {
    const Appliance a = random_appliance(seed);
    CAPTURE(seed);
    CAPTURE(a.what);
    const CycleSummary s = analyze(a.samples);
    CAPTURE(s.low_level.value_or(-1));
    CAPTURE(s.high_level.value_or(-1));
    CHECK(s.complete_cycles == static_cast<std::uint64_t>(a.cycles));
    CHECK(s.trusted);
    REQUIRE_MESSAGE(s.all.on_s.mean, seed);
    // U with k = 2, or one sampling interval for the averaging meter whose edges all come late alike.
    CHECK(std::abs(*s.all.on_s.mean - a.mean_on_s) <= std::max(1.2 * a.interval_s, *s.all.on_s.U));
  }
}
