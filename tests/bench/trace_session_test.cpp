// A trace with a clock that stands still until told: hours pass in milliseconds.
#include "switchwright/bench/trace_session.hpp"

#include <doctest/doctest.h>

#include <fstream>
#include <functional>
#include <iterator>

using namespace switchwright;

namespace {

/// One channel on a load that is on for 12 s of every 30 s, read once a second.
struct Bench {
  ManualClock clock;
  Instant zero = clock.now();
  TraceStream events;
  std::vector<SampleRow> samples;
  std::vector<Cycle> cycles;
  std::vector<std::string> notes;
  std::string ended;
  TraceSession session;

  explicit Bench(TraceLimits limits, RecordHeader header = {}, TraceSetup setup = {})
      : session(std::move(header), std::move(setup), {{1, "load", "", "scpi", "", "", "port", "", "", ""}}, limits, zero, clock, events) {
    events.subscribe([this](const TraceEvent& event, Instant) {
      if (const auto* e = std::get_if<SampleTaken>(&event)) samples.push_back(e->sample);
      if (const auto* e = std::get_if<CycleSeen>(&event)) cycles.push_back(e->cycle);
      if (std::holds_alternative<Reconsidered>(event)) cycles.clear();
      if (const auto* e = std::get_if<TraceNote>(&event)) notes.push_back(e->text);
      if (const auto* e = std::get_if<TraceEnded>(&event)) ended = e->kind;
    });
  }

  Reading reading(double value, Quantity quantity = Quantity::voltage_ac) const {
    Reading r;
    r.quantity = quantity;
    r.value = value;
    r.resolution = 0.1;
    r.at = clock.now();
    return r;
  }

  /// Runs until it ends or `seconds` are over; `each` is called before every reading.
  void run(int seconds, const std::function<void(int)>& each = {}) {
    for (int i = 0; i < seconds && !session.ended(); ++i) {
      if (each) each(i);
      session.on_reading(1, reading(i % 30 >= 3 && i % 30 < 15 ? 240.0 : 0.0));
      clock.advance(std::chrono::seconds{1});
    }
  }
};

}  // namespace

TEST_CASE("a trace ends after its time") {
  Bench bench{{.for_s = 600.0, .cycles = {}}};
  bench.session.start({});
  bench.run(1000);
  CHECK(bench.ended == "time");
  CHECK(bench.session.complete());
  CHECK(bench.samples.size() == 601);
}

TEST_CASE("a trace ends after its cycles") {
  Bench bench{{.for_s = {}, .cycles = 5}};
  bench.session.start({});
  bench.run(1000);
  CHECK(bench.ended == "cycles");
  CHECK(bench.cycles.size() >= 5);
  CHECK(bench.samples.back().t_s < 8 * 30.0);
}

TEST_CASE("a wall clock that jumps changes no duration") {
  Bench bench{{.for_s = 900.0, .cycles = {}}};
  bench.session.start({});
  bench.run(2000, [&](int i) {
    if (i == 100) bench.clock.jump_wall(std::chrono::hours{-1});
    if (i == 300) bench.clock.jump_wall(std::chrono::hours{5});
  });
  CHECK(bench.ended == "time");
  REQUIRE(bench.cycles.size() >= 20);
  for (const Cycle& cycle : bench.cycles) {
    CHECK(cycle.period_s == doctest::Approx(30.0));
    CHECK(cycle.on_s == doctest::Approx(12.0));
  }
}

TEST_CASE("nothing is taken before the acknowledgement") {
  Bench bench{{}};
  bench.run(10);
  CHECK(bench.samples.empty());
}

TEST_CASE("a meter on ohms is refused once in words and never sampled") {
  Bench bench{{}};
  bench.session.start({});
  for (int i = 0; i < 5; ++i) bench.session.on_reading(1, bench.reading(0.3, Quantity::resistance));
  CHECK(bench.samples.empty());
  REQUIRE(bench.notes.size() == 1);
  CHECK(bench.notes.front().find("AC volts") != std::string::npos);
}

TEST_CASE("a dial that is turned in the middle is refused until it is turned back") {
  Bench bench{{}};
  bench.session.start({});
  bench.session.on_reading(1, bench.reading(240.0));
  bench.session.on_reading(1, bench.reading(3.0, Quantity::current_ac));
  bench.session.on_reading(1, bench.reading(239.0));
  CHECK(bench.samples.size() == 2);
  CHECK(bench.notes.size() == 1);
}

TEST_CASE("stopping is a complete end only without a limit") {
  for (const bool limited : {true, false}) {
    CAPTURE(limited);
    Bench bench{{.for_s = limited ? std::optional{600.0} : std::nullopt, .cycles = {}}};
    bench.session.start({});
    bench.run(60);
    bench.session.stop();
    CHECK(bench.ended == "operator");
    CHECK(bench.session.complete() == !limited);
  }
}

namespace {

RecordHeader regulator() {
  RecordHeader header;
  std::ifstream file{std::string{SOURCE_DIR} + "/profiles/regulator-shunt-240.toml"};
  header.profile_id = "regulator-shunt-240";
  header.profile_text.assign(std::istreambuf_iterator<char>{file}, {});
  return header;
}

}  // namespace

TEST_CASE("a weld is an alarm as soon as the longest on time is passed and is said once") {
  // The profile allows 25 s on at medium; the load rises at 153 s, so that 178 s is the limit.
  TraceSetup medium;
  medium.position = "medium";
  Bench bench{{.for_s = 240.0, .cycles = {}}, regulator(), medium};
  CHECK(bench.session.limits_line().find("on 4 s to 25 s") != std::string::npos);
  CHECK(bench.session.load_should() == "cycle");
  bench.session.start({});
  double first_alarm_s = 0.0;
  for (int i = 0; i < 240; ++i) {
    const bool welded = i >= 153;
    bench.session.on_reading(1, bench.reading(welded || (i % 30 >= 3 && i % 30 < 15) ? 240.0 : 0.0));
    if (first_alarm_s == 0.0 && !bench.session.alarm().empty()) first_alarm_s = i;
    bench.clock.advance(std::chrono::seconds{1});
  }
  CHECK(first_alarm_s > 178.0 - 1.0);
  CHECK(first_alarm_s < 178.0 + 3.0);
  REQUIRE(bench.notes.size() == 1);
  CHECK(bench.notes.front().find("25") != std::string::npos);
}

TEST_CASE("a standstill of the program is noted") {
  Bench bench{{}};
  bench.session.start({});
  for (int i = 0; i < 20; ++i) {
    bench.session.on_pulse();
    bench.clock.advance(std::chrono::milliseconds{i == 10 ? 3000 : 100});
  }
  REQUIRE(bench.notes.size() == 1);
  CHECK(bench.notes.front().find("stood still for 3.0") != std::string::npos);
}

TEST_CASE("time to go runs down within a cycle") {
  Bench bench{{.for_s = {}, .cycles = 20}};
  bench.session.start({});
  bench.run(200);
  const auto before = bench.session.to_go_s();
  bench.run(5);
  const auto after = bench.session.to_go_s();
  REQUIRE(before);
  REQUIRE(after);
  CHECK(*after < *before);
}
