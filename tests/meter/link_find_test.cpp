// Finding out which meter is on which port. Frames: worked examples of the frame tables that the shipped
// definitions name.
#include "hex.hpp"
#include "link_fixture.hpp"
#include "switchwright/meter/find.hpp"

using namespace switchwright;
using namespace switchwright::link_test;
using switchwright::test::from_hex;

namespace {

const std::string lcd_frame = from_hex("13 22 37 49 55 67 7D 87 9D A2 B0 C4 D0 E0");  // 4.700 kohm
const std::string nibble_frame = "147000300020\r\n";                                  // 4.7000 kohm

std::vector<MeterDefinition> shipped() {
  const SearchPath where{{std::string(SOURCE_DIR) + "/meters"}};
  std::vector<MeterDefinition> all;
  for (const std::string& id : list_meter_definitions(where)) all.push_back(load_meter_definition(id, where));
  return all;
}

std::vector<MeterDefinition> only(std::vector<std::string> ids) {
  std::vector<MeterDefinition> some;
  for (MeterDefinition& definition : shipped())
    if (std::find(ids.begin(), ids.end(), definition.id) != ids.end()) some.push_back(std::move(definition));
  return some;
}

struct Search {
  Bench bench;
  std::optional<FindResult> result;

  const FindResult& run(FindRequest request, std::function<void()> meanwhile = {}) {
    const MeterFinder finder(bench.loop, bench.clock, std::move(request), [this](FindResult found) { result = found; });
    REQUIRE(bench.until([this] { return result.has_value(); }, std::move(meanwhile)));
    return *result;
  }
};

}  // namespace

TEST_CASE("a meter that sends is found among all shipped definitions and nothing is written to it") {
  struct Row {
    const char* meter;
    std::string frame;
  };
  const Row rows[] = {{"lcd-segment-14", lcd_frame}, {"ascii-nibble-14", nibble_frame}};
  for (const Row& row : rows) {
    CAPTURE(row.meter);
    FakeCable cable;
    Search search;
    int tick = 0;
    std::string written;
    const FindResult& result = search.run({{cable.path()}, shipped(), 0.12, false}, [&] {
      if (++tick % 10 == 0) cable.send(row.frame);
      written += cable.heard();
    });
    REQUIRE_FALSE(result.candidates.empty());
    CHECK(result.candidates[0].meter == row.meter);
    CHECK(result.candidates[0].score > 0.8);
    CHECK(result.candidates[0].frames >= 2);
    CHECK_FALSE(result.candidates[0].asked);
    CHECK(result.candidates[0].example->value == doctest::Approx(4700));
    CHECK(result.notes.empty());
    CHECK(written.empty());
  }
}

TEST_CASE("frames among garbage score lower than clean frames") {
  FakeCable clean;
  FakeCable dirty;
  Search search;
  int tick = 0;
  const FindResult& result = search.run({{dirty.path(), clean.path()}, only({"lcd-segment-14"}), 0.2, false}, [&] {
    if (++tick % 10 != 0) return;
    clean.send(lcd_frame);
    dirty.send(lcd_frame + "garbage and more garbage");
  });
  REQUIRE(result.candidates.size() == 2);
  CHECK(result.candidates[0].port == clean.path());
  CHECK(result.candidates[1].stray_bytes > result.candidates[0].stray_bytes);
  CHECK(result.candidates[1].score < 0.6);
}

TEST_CASE("ports without a meter say why") {
  FakeCable quiet;
  FakeCable noisy;
  FakeCable busy;
  Bench other;
  other.open(streaming_meter(), busy.path());
  Search search;
  int tick = 0;
  const FindResult& result = search.run(
      {{quiet.path(), noisy.path(), busy.path(), "/dev/ttyNoSuchPort"}, only({"lcd-segment-14"}), 0.1, false}, [&] {
        if (++tick % 10 == 0) noisy.send("hello world");
      });
  CHECK(result.candidates.empty());
  const auto note = [&](const std::string& port) {
    for (const FindNote& n : result.notes)
      if (n.port == port) return n.text;
    return std::string{};
  };
  CHECK(contains(note(quiet.path()), "nothing came"));
  CHECK(contains(note(noisy.path()), "no meter definition finds a frame"));
  CHECK(contains(note(busy.path()), "in use"));
  CHECK(contains(note("/dev/ttyNoSuchPort"), "no such port"));
}

TEST_CASE("a meter that only answers is found when asking is allowed") {
  FakeServer server;
  Search search;
  std::string heard;
  FindRequest request{{server.port()}, only({"lcd-segment-14", "scpi"}), 0.05, true};
  const FindResult& result = search.run(request, [&] {
    server.accept();
    heard += server.heard();
    for (std::size_t end; (end = heard.find('\n')) != std::string::npos; heard.erase(0, end + 1)) {
      const std::string line = heard.substr(0, end);
      if (line == "*IDN?") server.send("Example,bench meter,0,1\n");
      if (line == "SYST:ERR?") server.send("0,\"No error\"\n");
      if (line == "MEAS:RES?") server.send("+4.70000000E+03\n");
    }
  });
  REQUIRE(result.candidates.size() == 1);
  CHECK(result.candidates[0].meter == "scpi");
  CHECK(result.candidates[0].asked);
  CHECK(result.candidates[0].identity == "Example,bench meter,0,1");
  CHECK(result.candidates[0].example->value == doctest::Approx(4700));
}

TEST_CASE("a search that is ended early makes no further call") {
  FakeCable cable;
  Bench bench;
  bool called = false;
  {
    const MeterFinder finder(bench.loop, bench.clock, {{cable.path()}, shipped(), 0.1, false},
                             [&](FindResult) { called = true; });
    bench.run_for(std::chrono::milliseconds{20});
  }
  bench.loop.run();
  CHECK_FALSE(called);
}

TEST_CASE("devices with a serial interface of their own are left alone") {
  PortInfo port;
  port.driver = "ftdi_sio";
  CHECK(left_alone_because(port).empty());
  port.driver = "cdc_acm";
  CHECK_FALSE(left_alone_because(port).empty());
  port = {};
  port.readable = false;
  CHECK(contains(left_alone_because(port), "dialout"));
}
