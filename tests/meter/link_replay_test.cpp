// Captures: written, read back, played as a meter. The format is our own; its examples here are written by
// hand.
#include <fstream>
#include <sstream>

#include "link_fixture.hpp"
#include "meter/link/replay.hpp"
#include "switchwright/meter/capture.hpp"

using namespace switchwright;
using namespace switchwright::link_test;

namespace {

struct ScratchFile {
  explicit ScratchFile(const std::string& name)
      : path(std::filesystem::temp_directory_path() / (name + "-" + std::to_string(::getpid()))) {
    std::filesystem::remove(path);
  }
  ScratchFile(const std::string& name, const std::string& text) : ScratchFile(name) { std::ofstream(path) << text; }
  ~ScratchFile() { std::filesystem::remove(path); }
  ScratchFile(const ScratchFile&) = delete;
  ScratchFile& operator=(const ScratchFile&) = delete;
  std::string text() const {
    std::ostringstream all;
    all << std::ifstream(path).rdbuf();
    return all.str();
  }
  std::filesystem::path path;
};

// "1 LF", half of "22 LF", its other half, five quiet seconds, "3 LF".
const char* const capture =
    "# switchwright capture 1\n"
    "# meter: text-line\n"
    "# made by hand\n"
    "0.0 31 0A\n"
    "0.010 32\n"
    "\n"
    "0.020 32 0a\n"
    "5.020 33 0A\n";

void play(Bench& bench, const std::filesystem::path& path, bool fast, const Clock& clock) {
  MeterDefinition definition = streaming_meter();
  definition.link.silent_after_s = 2.0;
  bench.meter = open_replay(bench.loop, clock, definition, "replay:" + path.string(), std::make_unique<LineDecoder>(),
                            bench.callbacks(), MeterOptions{fast});
}

}  // namespace

TEST_CASE("a capture played fast gives its readings and silences at their recorded times") {
  const ScratchFile file("replay", capture);
  const ManualClock clock;
  const Monotonic start = clock.now().monotonic;
  Bench bench;
  play(bench, file.path, true, clock);
  bench.loop.run();
  CHECK(bench.values() == std::vector<double>{1, 22, 3});
  const std::vector<double> times{0.0, 0.020, 5.020};
  for (std::size_t i = 0; i < times.size(); ++i)
    CHECK(seconds_between(start, bench.readings[i].at.monotonic) == doctest::Approx(times[i]));
  const std::vector<std::pair<LinkState, double>> expected{{LinkState::open, 0},
                                                           {LinkState::alive, 0},
                                                           {LinkState::silent, 2.020},
                                                           {LinkState::alive, 5.020},
                                                           {LinkState::ended, 5.020}};
  REQUIRE(bench.changes.size() == expected.size());
  for (std::size_t i = 0; i < expected.size(); ++i) {
    CHECK(bench.changes[i].state == expected[i].first);
    CHECK(seconds_between(start, bench.changes[i].at.monotonic) == doctest::Approx(expected[i].second));
  }
  CHECK(contains(bench.changes.back().detail, "3 valid frames, 0 rejected"));
}

TEST_CASE("a capture keeps its pace when asked") {
  const ScratchFile file("replay-pace", "# switchwright capture 1\n0 31 0A\n0.08 32 0A\n");
  Bench bench;
  const auto before = std::chrono::steady_clock::now();
  play(bench, file.path, false, bench.clock);
  bench.loop.run();
  CHECK(bench.values() == std::vector<double>{1, 2});
  CHECK(std::chrono::steady_clock::now() - before >= std::chrono::milliseconds{80});
}

TEST_CASE("a capture can be stopped from its first reading") {
  const ScratchFile file("replay-stop", capture);
  Bench bench;
  play(bench, file.path, true, bench.clock);
  MeterCallbacks callbacks = bench.callbacks();
  int readings = 0;
  callbacks.reading = [&](const Reading&) {
    ++readings;
    bench.meter.reset();
  };
  bench.meter = open_replay(bench.loop, bench.clock, streaming_meter(), "replay:" + file.path.string(),
                            std::make_unique<LineDecoder>(), callbacks, MeterOptions{true});
  bench.loop.run();
  CHECK(readings == 1);
  CHECK_FALSE(bench.saw(LinkState::ended));
}

TEST_CASE("a capture of another meter says so at its end") {
  const ScratchFile file("replay-other", "# switchwright capture 1\n# meter: other-frame\n0 41 0A\n");
  Bench bench;
  play(bench, file.path, true, bench.clock);
  bench.loop.run();
  CHECK(contains(bench.changes.back().detail, "made with meter definition other-frame, not text-line"));
}

TEST_CASE("what is not a capture is a usage error that names the line") {
  struct Row {
    const char* text;
    const char* says;
  };
  const Row rows[] = {
      {"", "empty"},
      {"hello\n", ":1: expected \"# switchwright capture 1\""},
      {"# switchwright capture 1\nx 31\n", ":2: expected seconds"},
      {"# switchwright capture 1\n-1 31\n", ":2: expected seconds"},
      {"# switchwright capture 1\nnan 31\n", ":2: expected seconds"},
      {"# switchwright capture 1\n0 3\n", ":2: expected a byte"},
      {"# switchwright capture 1\n0 0x31\n", ":2: expected a byte"},
      {"# switchwright capture 1\n\n2 31\n1 31\n", ":4: time runs backwards"},
  };
  for (const Row& row : rows) {
    CAPTURE(row.text);
    const ScratchFile file("capture-bad", row.text);
    const Error error = error_of([&] { load_capture(file.path); });
    CHECK(error.kind() == ErrorKind::usage);
    CHECK(contains(error.what(), row.says));
  }
  CHECK(error_of([] { load_capture("/no/such/file"); }).kind() == ErrorKind::usage);
  CHECK(error_of([] { load_capture("/tmp"); }).kind() == ErrorKind::usage);
}

TEST_CASE("a capture written from a meter reads back byte for byte") {
  const ScratchFile file("capture-written");
  ManualClock clock;
  MeterDefinition definition = streaming_meter();
  definition.link = {2400, 7, Parity::odd, 2, {}, {}, 2.0};
  {
    CaptureWriter writer(file.path, definition, "/dev/ttyUSB0", clock.now());
    clock.advance(std::chrono::milliseconds{250});
    writer.write(std::string("\x00\xFF\n", 3), clock.now());
    CHECK(contains(file.text(), "0.250000 00 FF 0A\n"));  // flushed before the writer is gone
    clock.advance(std::chrono::microseconds{1});
    writer.write("A", clock.now());
  }
  CHECK(contains(file.text(), "# started: 2026-01-01T00:00:00.000Z\n"));
  CHECK(contains(file.text(), "# line: 2400 baud, 7 data bits, odd parity, 2 stop bits\n"));
  const Capture capture = load_capture(file.path);
  CHECK(capture.meter == "text-line");
  REQUIRE(capture.lines.size() == 2);
  CHECK(capture.lines[0].bytes == std::string("\x00\xFF\n", 3));
  CHECK(capture.lines[1].at_s == doctest::Approx(0.250001));
}

TEST_CASE("a capture never overwrites a file and says when it cannot be made") {
  const ScratchFile file("capture-there", "precious");
  const ManualClock clock;
  const auto open = [&](const std::filesystem::path& path) {
    CaptureWriter(path, streaming_meter(), "p", clock.now());
  };
  CHECK(error_of([&] { open(file.path); }).kind() == ErrorKind::usage);
  CHECK(file.text() == "precious");
  CHECK(contains(error_of([&] { open("/no/such/directory/x"); }).what(), "directory"));
}

TEST_CASE("a full disk is told and not passed over") {
  // /dev/full answers every write with ENOSPC: full(4).
  const ManualClock clock;
  const Error error = error_of([&] { CaptureWriter("/dev/full", streaming_meter(), "p", clock.now()); });
  CHECK(error.kind() == ErrorKind::store);
  CHECK(contains(error.what(), "No space left"));
}

TEST_CASE("every kept capture plays through the definition that it names") {
  const std::filesystem::path kept = std::filesystem::path(SOURCE_DIR) / "tests/captures";
  int played = 0;
  for (const auto& entry : std::filesystem::directory_iterator(kept)) {
    if (entry.path().extension() != ".capture") continue;
    CAPTURE(entry.path().filename().string());
    const Capture capture = load_capture(entry.path());
    const MeterDefinition definition =
        load_meter_definition(capture.meter, SearchPath{{std::string(SOURCE_DIR) + "/meters"}});
    Bench bench;
    bench.meter = open_meter(bench.loop, bench.clock, definition, "replay:" + entry.path().string(), bench.callbacks(),
                             MeterOptions{true});
    bench.loop.run();
    CHECK_FALSE(bench.readings.empty());
    CHECK(bench.changes.back().state == LinkState::ended);
    ++played;
  }
  CHECK(played > 0);
}
