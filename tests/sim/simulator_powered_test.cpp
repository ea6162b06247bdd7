// The simulated bench under power, as the tool meets it: several meters on one switch.
#include <doctest/doctest.h>

#include <cmath>

#include "bench_time.hpp"
#include "switchwright/meter/decoder.hpp"
#include "switchwright/profile/library.hpp"
#include "switchwright/sim/simulator.hpp"

namespace switchwright::sim {

namespace {

SimulatorSettings fast() {
  SimulatorSettings settings;
  settings.rate_hz = 1000.0;
  return settings;
}

/// A powered regulator, three meters on it, and time that the test moves.
struct PoweredBench {
  PoweredBench()
      : simulator(loop, clock, regulator_240(), lcd(), settings()),
        hands(RawEnd::unix_socket(simulator.hands_socket())) {}

  static Profile regulator_240() { return load_profile("regulator-shunt-240", {SOURCE_DIR "/profiles"}); }
  static MeterDefinition lcd() { return load_meter_definition("lcd-segment-14", {{SOURCE_DIR "/meters"}}); }
  static SimulatorSettings settings() {
    auto settings = fast();
    settings.power.scatter = 0.0;
    settings.start = {Probes::on_pair, {"H1", "H2"}, "medium", Quantity::voltage_ac};
    settings.more_meters = {{"line", lcd(), {"L1", "L2"}, Quantity::voltage_ac, {}},
                            {"pilot", lcd(), {"P", "L2"}, Quantity::voltage_ac, {}}};
    return settings;
  }

  /// The next whole reading of a meter, in volts; -1 for over-range.
  double volts(const std::string& meter) {
    RawEnd line = RawEnd::device(meter.empty() ? simulator.port() : simulator.port(meter));
    const auto decoder = make_decoder(lcd());
    std::vector<Reading> readings;
    turn_until(
        loop, [] { return false; }, std::chrono::milliseconds{10});  // what nobody read is on its way out
    line.forget();
    turn_until(loop, [&] {
      decoder->feed(line.taken(), {}, readings);
      return readings.size() >= 3;
    });
    REQUIRE(readings.size() >= 3);
    CHECK(readings.back().quantity == Quantity::voltage_ac);
    return readings.back().finite() ? readings.back().value : -1.0;
  }
  void tell(const std::string& message) {
    hands.forget();
    hands.write(message + "\n");
    turn_until(loop, [&] { return hands.received().find('\n') != std::string::npos; });
    CHECK(hands.received() == "{\"id\":1,\"done\":true}\n");
    clock.advance(std::chrono::milliseconds{10});  // past the meters' averaging window
  }

  Loop loop;
  ManualClock clock;
  Simulator simulator;
  RawEnd hands;
};

}  // namespace

TEST_CASE("Three meters on one powered switch see supply and pilot steady and the load cycle") {
  PoweredBench bench;
  CHECK(bench.volts("") < 0.1);
  bench.tell(R"({"id":1,"power":"on"})");
  struct Row {
    double after_s;  // since the row before;  // medium at 240 V: on for 14.5 s once warm, off for 26.5 s;
                     // longer at first, from cold
    double load_v;
  };
  const Row rows[] = {{0.0, 240.0}, {10.0, 240.0}, {20.0, 0.0}, {10.0, 0.0}, {10.0, 240.0}};
  for (const Row& row : rows) {
    CAPTURE(row.after_s);
    bench.clock.advance(from_seconds(row.after_s));
    CHECK(std::abs(bench.volts("") - row.load_v) < 5.0);
    CHECK(std::abs(bench.volts("line") - 240.0) < 5.0);
    CHECK(std::abs(bench.volts("pilot") - 240.0) < 5.0);
  }
  bench.tell(R"({"id":1,"position":"off"})");
  CHECK(bench.volts("") < 0.1);
  CHECK(bench.volts("line") > 235.0);
  bench.tell(R"({"id":1,"power":"off"})");
  CHECK(bench.volts("line") < 0.1);
  bench.tell(R"({"id":1,"meter":"line","probes":"known-source"})");
  CHECK(std::abs(bench.volts("line") - 24.0) < 1.0);
}

}  // namespace switchwright::sim
