// A meter on a serial device, through real pseudo-terminals. The traps are those of termios(3), tty_ioctl(4)
// and pty(7).
#include <signal.h>
#include <sys/wait.h>

#include "link_fixture.hpp"

using namespace switchwright;
using namespace switchwright::link_test;

TEST_CASE("a frame that arrives in pieces becomes one reading") {
  FakeCable cable;
  Bench bench;
  bench.open(streaming_meter(), cable.path());
  REQUIRE(bench.until_state(LinkState::open));
  cable.send("12");
  bench.run_for(std::chrono::milliseconds{5});
  CHECK(bench.readings.empty());
  cable.send(".5\n");
  REQUIRE(bench.until([&] { return bench.readings.size() == 1; }));
  CHECK(bench.readings[0].value == 12.5);
  CHECK(bench.changes.back().state == LinkState::alive);
  CHECK(bench.bytes == "12.5\n");
}

TEST_CASE("bytes written before the port was opened are discarded") {
  FakeCable cable;
  cable.send("1\n2\n3");
  Bench bench;
  bench.open(streaming_meter(), cable.path());
  REQUIRE(bench.until_state(LinkState::open));
  cable.send("4\n");
  REQUIRE(bench.until([&] { return !bench.readings.empty(); }));
  CHECK(bench.values() == std::vector<double>{4});
}

TEST_CASE("a silent line is told with what to check") {
  FakeCable cable;
  Bench bench;
  bench.open(streaming_meter(), cable.path());
  REQUIRE(bench.until_state(LinkState::silent));
  CHECK(contains(bench.changes.back().detail, "nothing received"));
  CHECK(contains(bench.changes.back().detail, "cable"));
  SUBCASE("once and not again") {
    const auto told = bench.changes.size();
    bench.run_for(std::chrono::milliseconds{350});
    CHECK(bench.changes.size() == told);
  }
  SUBCASE("and told again as alive when frames come") {
    cable.send("7\n");
    CHECK(bench.until_state(LinkState::alive));
  }
}

TEST_CASE("garbage is told as wrong speed or wrong definition with the count of rejected frames") {
  FakeCable cable;
  Bench bench;
  bench.open(streaming_meter(), cable.path());
  REQUIRE(bench.until_state(LinkState::open));
  cable.send("xx\nyy\n\x80\x81");
  REQUIRE(bench.until_state(LinkState::silent));
  CHECK(contains(bench.changes.back().detail, "8 bytes"));
  CHECK(contains(bench.changes.back().detail, "2 rejected, mostly not a number"));
  CHECK(contains(bench.changes.back().detail, "9600 baud"));
  CHECK(bench.readings.empty());
}

TEST_CASE("an unplugged cable is lost and found again under the same name") {
  const std::string alias = std::filesystem::temp_directory_path() / ("link-test-" + std::to_string(::getpid()));
  FakeCable cable(alias);
  Bench bench;
  bench.open(streaming_meter(), cable.path());
  REQUIRE(bench.until_state(LinkState::open));
  cable.send("1\n");
  REQUIRE(bench.until_state(LinkState::alive));
  cable.unplug();
  REQUIRE(bench.until_state(LinkState::lost));
  bench.run_for(std::chrono::milliseconds{150});
  CHECK(bench.changes.back().state == LinkState::lost);
  cable.plug();
  REQUIRE(bench.until_state(LinkState::open));
  cable.send("2\n");
  REQUIRE(bench.until_state(LinkState::alive));
  CHECK(bench.values() == std::vector<double>{1, 2});
}

TEST_CASE("half a frame before the unplug and half after make no reading") {
  const std::string alias = std::filesystem::temp_directory_path() / ("link-torn-" + std::to_string(::getpid()));
  FakeCable cable(alias);
  Bench bench;
  bench.open(streaming_meter(), cable.path());
  REQUIRE(bench.until_state(LinkState::open));
  cable.send("1\n99");
  REQUIRE(bench.until_state(LinkState::alive));
  cable.unplug();
  REQUIRE(bench.until_state(LinkState::lost));
  cable.plug();
  REQUIRE(bench.until_state(LinkState::open));
  cable.send("2\n");
  REQUIRE(bench.until_state(LinkState::alive));
  CHECK(bench.values() == std::vector<double>{1, 2});
}

TEST_CASE("seven data bits are had from a pseudo-terminal by masking the eighth") {
  FakeCable cable;
  MeterDefinition definition = streaming_meter();
  definition.link = {19200, 7, Parity::odd, 1, {}, {}, 0.15};
  Bench bench;
  bench.open(definition, cable.path());
  REQUIRE(bench.until_state(LinkState::open));
  // "5 LF" with odd parity in bit 7: 5 has four ones, LF two, so both carry a parity bit of 1.
  cable.send("\xB5\x8A");
  REQUIRE(bench.until([&] { return !bench.readings.empty(); }));
  CHECK(bench.values() == std::vector<double>{5});
  CHECK(bench.bytes == "\xB5\x8A");
}

TEST_CASE("the line is left raw whatever the last user set") {
  FakeCable cable;
  termios cooked{};
  ::tcgetattr(cable.other_end(), &cooked);
  cooked.c_lflag |= ICANON | ECHO | ISIG;
  cooked.c_iflag |= ICRNL | IXON;
  cooked.c_oflag |= OPOST | ONLCR;
  cooked.c_cc[VMIN] = 0;
  ::tcsetattr(cable.other_end(), TCSANOW, &cooked);
  Bench bench;
  bench.open(streaming_meter(), cable.path());
  termios now{};
  ::tcgetattr(cable.other_end(), &now);
  CHECK((now.c_lflag & (ICANON | ECHO | ISIG)) == 0);
  CHECK((now.c_iflag & (ICRNL | IXON)) == 0);
  CHECK((now.c_oflag & OPOST) == 0);
  CHECK(now.c_cc[VMIN] == 1);
  CHECK(now.c_cc[VTIME] == 0);
}

TEST_CASE("a port in use by another program is refused with the reason") {
  FakeCable cable;
  Bench bench;
  bench.open(streaming_meter(), cable.path());
  Bench second;
  const Error error = error_of([&] { second.open(streaming_meter(), cable.path()); });
  CHECK(error.kind() == ErrorKind::meter);
  CHECK(contains(error.what(), "in use by another program"));
  SUBCASE("and free again after stop") {
    bench.meter->stop();
    CHECK_NOTHROW(second.open(streaming_meter(), cable.path()));
  }
}

TEST_CASE("a first open that fails says what to do") {
  struct Row {
    const char* port;
    int baud;
    ErrorKind kind;
    const char* says;
  };
  FakeCable cable;
  const Row rows[] = {
      {"/dev/ttyNoSuchPort", 9600, ErrorKind::meter, "no such port"},
      {"/dev/null", 9600, ErrorKind::meter, "not a serial port"},
      {"/dev/tty", 9600, ErrorKind::meter, ""},
      {"/dev", 9600, ErrorKind::meter, "not a serial port"},
      {SOURCE_DIR "/CMakeLists.txt", 9600, ErrorKind::meter, "replay:"},
      {cable.path().c_str(), 19230, ErrorKind::meter, "the nearest is 19200"},
      {"", 9600, ErrorKind::usage, "no port is named"},
  };
  for (const Row& row : rows) {
    CAPTURE(row.port);
    Bench bench;
    MeterDefinition definition = streaming_meter();
    definition.link.baud = row.baud;
    const Error error = error_of([&] { bench.open(definition, row.port); });
    CHECK(error.kind() == row.kind);
    CHECK(contains(error.what(), row.says));
    CHECK_FALSE(error.what_next().empty());
  }
}

TEST_CASE("a terminal window that somebody works in is not taken for a meter") {
  int master = -1;
  const pid_t child = ::forkpty(&master, nullptr, nullptr, nullptr);  // the child's controlling terminal
  if (child == 0) {
    ::pause();
    ::_exit(0);
  }
  char name[128];
  REQUIRE(::ptsname_r(master, name, sizeof name) == 0);
  Bench bench;
  REQUIRE(bench.until([&] { return ::tcgetpgrp(master) == child; }));  // the child has taken its seat
  const Error error = error_of([&] { bench.open(streaming_meter(), name); });
  CHECK(contains(error.what(), "somebody works in"));
  ::kill(child, SIGKILL);
  ::waitpid(child, nullptr, 0);
  ::close(master);
}

TEST_CASE("no callback follows stop even when it is called from a callback") {
  FakeCable cable;
  Bench bench;
  int calls = 0;
  MeterCallbacks callbacks;
  callbacks.reading = [&](const Reading&) {
    ++calls;
    bench.meter.reset();
  };
  callbacks.link = [&](const LinkChange& change) { calls += change.state == LinkState::open ? 0 : 100; };
  bench.meter = open_link_meter(bench.loop, bench.clock, streaming_meter(), cable.path(),
                                std::make_unique<LineDecoder>(), callbacks);
  bench.until([&] { return true; });
  callbacks = {};
  cable.send("1\n2\n3\n");
  bench.until([&] { return !bench.meter; });
  bench.loop.run();     // returns: nothing is left to wait for
  CHECK(calls == 101);  // one reading, and alive before it
}

TEST_CASE("stop before the loop ever ran closes the port") {
  FakeCable cable;
  Bench bench;
  bench.open(streaming_meter(), cable.path());
  bench.meter->stop();
  bench.meter->stop();
  Bench second;
  CHECK_NOTHROW(second.open(streaming_meter(), cable.path()));
  bench.loop.run();
  CHECK(bench.changes.empty());
}

TEST_CASE("a shipped definition decodes its frame from a real port through open_meter") {
  FakeCable cable;
  Bench bench;
  const MeterDefinition definition =
      load_meter_definition("lcd-segment-14", SearchPath{{std::string(SOURCE_DIR) + "/meters"}});
  bench.meter = open_meter(bench.loop, bench.clock, definition, cable.path(), bench.callbacks());
  REQUIRE(bench.until_state(LinkState::open));
  cable.send("\x13\x22\x37\x49\x55\x67\x7D");
  bench.run_for(std::chrono::milliseconds{3});
  cable.send("\x87\x9D\xA2\xB0\xC4\xD0\xE0");  // 4.700 kohm: worked example of the frame table
  REQUIRE(bench.until([&] { return bench.readings.size() == 1; }));
  CHECK(bench.readings[0].value == doctest::Approx(4700));
  CHECK(bench.readings[0].resolution == doctest::Approx(1));
  CHECK(bench.meter->counts().accepted == 1);
}
