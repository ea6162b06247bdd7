// A day at the bench: 24 hours, eight channels, by a clock that is told the time. Nothing may be lost, counted wrongly or grow.
#include <doctest/doctest.h>
#include <sqlite3.h>
#include <sys/resource.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdint>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <string>
#include <thread>

#include "record/example.hpp"
#include "switchwright/analysis/trace_analysis.hpp"
#include "switchwright/bench/trace_session.hpp"

using namespace switchwright;

namespace {

constexpr int channels = 8;
constexpr int per_second = 2;
constexpr double volts_on = 239.0;

double hours() {
  const char* wanted = std::getenv("SWITCHWRIGHT_SOAK_HOURS");
#ifdef NDEBUG
  constexpr double wanted_by_default = 24.0;
#else
  constexpr double wanted_by_default = 2.0;  // under the sanitizers
#endif
  return wanted != nullptr ? std::atof(wanted) : wanted_by_default;
}

/// Channel n is on for 10 + n seconds of every 30 + 2n, from half a second after zero on (drawn by hand, not measured).
bool is_on(int channel, double t_s) {
  const double period_s = 30.0 + 2.0 * channel;
  const double phase_s = std::fmod(t_s - 0.25, period_s);
  return t_s >= 0.25 && phase_s < 10.0 + channel;
}

/// How many samples are on the disk.
class SamplesOnDisk {
 public:
  explicit SamplesOnDisk(const std::filesystem::path& store) {
    REQUIRE(sqlite3_open_v2(store.c_str(), &database_, SQLITE_OPEN_READONLY, nullptr) == SQLITE_OK);
    REQUIRE(sqlite3_prepare_v2(database_, "SELECT max(rowid) FROM sample", -1, &asked_, nullptr) == SQLITE_OK);
  }
  ~SamplesOnDisk() {
    sqlite3_finalize(asked_);
    sqlite3_close(database_);
  }
  SamplesOnDisk(const SamplesOnDisk&) = delete;
  SamplesOnDisk& operator=(const SamplesOnDisk&) = delete;
  std::uint64_t samples() const {
    const bool row = sqlite3_step(asked_) == SQLITE_ROW;
    const auto found = row ? static_cast<std::uint64_t>(sqlite3_column_int64(asked_, 0)) : 0;
    sqlite3_reset(asked_);
    return found;
  }

 private:
  sqlite3* database_ = nullptr;
  sqlite3_stmt* asked_ = nullptr;
};

long peak_mib() {
  rusage usage{};
  getrusage(RUSAGE_SELF, &usage);
  return usage.ru_maxrss / 1024;
}

}  // namespace

TEST_CASE("a day of eight channels loses no sample, counts every cycle, and its memory does not grow with the hours") {
  const example::Folder folder;
  Store store(folder / "records.sqlite");
  RecordHeader header = example::header();
  header.kind = RecordKind::trace;
  std::ifstream file{std::string{SOURCE_DIR} + "/profiles/regulator-shunt-240.toml"};
  header.profile_text.assign(std::istreambuf_iterator<char>{file}, {});
  ManualClock clock;
  header.started = clock.now().wall;
  header.id = store.begin(header);

  std::vector<TraceChannel> meters;
  for (int n = 1; n <= channels; ++n) {
    const std::string name = n == 1 ? "load" : "extra-" + std::to_string(n);
    meters.push_back({n, name, "", "scpi", "", "", "port", "", "", n == 1 ? "load" : "other"});
  }
  TraceStream events;
  std::uint64_t taken = 0;
  const Instant zero = clock.now();
  TraceSetup setup;
  setup.position = "medium";
  TraceSession session(header, setup, meters, {}, zero, clock, events);
  TraceRecorder recorder(store, header.id, events);
  events.subscribe(
      [&](const TraceEvent& event, Instant) { taken += std::holds_alternative<SampleTaken>(event) ? 1 : 0; });

  const SamplesOnDisk kept(folder / "records.sqlite");
  session.start({clock.now().wall, "energised", "test", "a test states it", "invented"});
  const auto steps = static_cast<std::int64_t>(hours() * 3600.0 * per_second);
  std::uint64_t fed = 0;
  long after_an_eighth_mib = 0;
  const auto step = std::chrono::milliseconds{1000 / per_second};
  for (std::int64_t i = 0; i < steps; ++i) {
    const double t_s = static_cast<double>(i) / per_second;
    for (int n = 1; n <= channels; ++n) {
      Reading reading;
      reading.quantity = Quantity::voltage_ac;
      reading.value = is_on(n, t_s) ? volts_on : 0.0;
      reading.resolution = 0.1;
      reading.at = clock.now();
      session.on_reading(n, reading);
      ++fed;
    }
    if (i == steps / 3) clock.jump_wall(std::chrono::hours{-1});  // summer time ends
    clock.advance(step);
    session.on_tick();
    recorder.tick(clock.now());
    // This day is some thousand times faster than a real one; the disk is not.
    if (i % 20 == 0) {
      const auto limit = std::chrono::steady_clock::now() + std::chrono::seconds{30};
      while (kept.samples() + 40 * channels < fed && std::chrono::steady_clock::now() < limit)
        std::this_thread::sleep_for(std::chrono::milliseconds{1});
    }
    if (i == steps / 8) after_an_eighth_mib = peak_mib();
  }
  session.stop();
  recorder.close();
  CHECK_FALSE(recorder.lost());
  CHECK(taken == fed);
  const long session_mib = peak_mib();

  CHECK(store.check_chain(header.id) == "");
  TraceAnalysis analysis;
  (void)judge_trace(store, header.id, analysis);
  REQUIRE(analysis.channels.size() == channels);
  const double day_s = static_cast<double>(steps - 1) / per_second;
  for (int n = 1; n <= channels; ++n) {
    const auto& found = analysis.channels[static_cast<std::size_t>(n - 1)];
    CAPTURE(n);
    // A complete cycle runs from one rise to the next: rises at 0.25 s + k periods, the one at 0.25 s included.
    const double period_s = 30.0 + 2.0 * n;
    CHECK(found.summary.complete_cycles == static_cast<std::uint64_t>((day_s - 0.25) / period_s));
    CHECK(found.summary.gaps == 0);
    CHECK(found.summary.all.on_s.mean == doctest::Approx(10.0 + n).epsilon(0.001));
    CHECK(found.summary.all.period_s.mean == doctest::Approx(period_s).epsilon(0.001));
  }
  MESSAGE("peak " << after_an_eighth_mib << " MiB after an eighth, " << session_mib << " MiB at the end, " << peak_mib()
                  << " MiB judged");
  CHECK(session_mib < after_an_eighth_mib + 48);
  CHECK(peak_mib() < after_an_eighth_mib + 96);
}
