#include "cli/practice_bench.hpp"

#include <optional>

#include "switchwright/core/error.hpp"
#include "switchwright/core/loop.hpp"
#include "switchwright/meter/meter.hpp"
#include "switchwright/sim/simulator.hpp"
#include "switchwright/verify/settle.hpp"

namespace switchwright::cli {

namespace {

constexpr double rate_hz = 50.0;       // a simulated meter need not be slow
constexpr double drain_s = 0.05;       // readings that were still on the line do not count
constexpr std::chrono::seconds patience{20};

SimulatorSettings settings_of(std::vector<Fault> faults, std::uint64_t seed) {
  SimulatorSettings settings;
  settings.faults = std::move(faults);
  settings.seed = seed;
  settings.rate_hz = rate_hz;
  return settings;
}

}  // namespace

struct PracticeBench::Impl {
  Impl(const Profile& profile, const MeterDefinition& definition, std::vector<Fault> faults, std::uint64_t seed)
      : simulator(loop, clock, profile, definition, settings_of(std::move(faults), seed)) {}

  void on_reading(const Reading& reading) {
    if (!settler || seconds_between(arranged_at, reading.at.monotonic) < drain_s) return;
    if (const auto indication = settler->feed(reading)) {
      settled = indication;
      settler.reset();
      loop.stop();
    }
  }

  Loop loop;
  SystemClock clock;
  Simulator simulator;
  std::unique_ptr<Meter> meter;
  std::unique_ptr<Hands> hands;
  std::optional<Settler> settler;
  std::optional<Indication> settled;
  Monotonic arranged_at{};
};

PracticeBench::PracticeBench(const Profile& profile, const MeterDefinition& meter, std::vector<Fault> faults,
                             std::uint64_t seed)
    : impl_(std::make_unique<Impl>(profile, meter, std::move(faults), seed)) {
  Impl& bench = *impl_;
  MeterCallbacks callbacks;
  callbacks.reading = [&bench](const Reading& reading) { bench.on_reading(reading); };
  callbacks.link = [](const LinkChange&) {};
  bench.meter = open_meter(bench.loop, bench.clock, meter, bench.simulator.port(), callbacks);
  bench.hands = simulator_hands(bench.loop, bench.simulator.hands_socket());
}

PracticeBench::~PracticeBench() {
  if (impl_->meter) impl_->meter->stop();
}

Indication PracticeBench::take(const Arrangement& arrangement) {
  Impl& bench = *impl_;
  bench.settled.reset();
  bench.settler.reset();
  std::string trouble;
  bench.meter->select(arrangement.dial);
  bench.hands->arrange(
      arrangement,
      [&bench, dial = arrangement.dial] {
        SettleRule rule;
        rule.for_s = 0.1;
        bench.settler.emplace(rule, dial);
        bench.arranged_at = bench.clock.now().monotonic;
      },
      [&bench, &trouble](const std::string& reason) {
        trouble = reason;
        bench.loop.stop();
      });
  const Loop::Timer too_late = bench.loop.after(patience, [&bench] { bench.loop.stop(); });
  bench.loop.run();
  if (!bench.settled)
    throw Error(ErrorKind::meter, trouble.empty() ? "the simulated meter gave no settled reading" : trouble, "practice",
                "start again");
  return *bench.settled;
}

}  // namespace switchwright::cli
