// A meter behind a TCP port, on the loopback interface.
#include "link_fixture.hpp"

using namespace switchwright;
using namespace switchwright::link_test;

TEST_CASE("readings come over TCP") {
  FakeServer server;
  Bench bench;
  bench.open(streaming_meter(), server.port());
  REQUIRE(server.accept());
  server.send("1\n2\n3");
  REQUIRE(bench.until([&] { return bench.readings.size() == 2; }));
  server.send("4\n");
  REQUIRE(bench.until([&] { return bench.readings.size() == 3; }));
  CHECK(bench.values() == std::vector<double>{1, 2, 34});
}

TEST_CASE("a peer that closes is lost and found again when it listens again") {
  FakeServer server;
  Bench bench;
  bench.open(streaming_meter(), server.port());
  REQUIRE(server.accept());
  server.send("1\n");
  REQUIRE(bench.until_state(LinkState::alive));
  server.hang_up();
  REQUIRE(bench.until_state(LinkState::lost));
  CHECK(contains(bench.changes.back().detail, "the other side closed it"));
  REQUIRE(bench.until([&] { return server.accept(); }));
  server.send("2\n");
  REQUIRE(bench.until_state(LinkState::alive));
  CHECK(bench.values() == std::vector<double>{1, 2});
}

TEST_CASE("an address where nothing listens is refused with the reason") {
  FakeServer server;
  const std::string port = server.port();
  server.stop_listening();
  Bench bench;
  const Error error = error_of([&] { bench.open(streaming_meter(), port); });
  CHECK(error.kind() == ErrorKind::meter);
  CHECK(contains(error.what(), "nothing listens"));
}

TEST_CASE("an address that is not HOST:PORT is a usage error") {
  for (const char* port :
       {"tcp:", "tcp:host", "tcp:host:", "tcp::5025", "tcp:host:port", "tcp:host:0", "tcp:host:70000"}) {
    CAPTURE(port);
    Bench bench;
    CHECK(error_of([&] { bench.open(streaming_meter(), port); }).kind() == ErrorKind::usage);
  }
}

TEST_CASE("stop while a lost TCP peer is looked for ends at once") {
  FakeServer server;
  Bench bench;
  bench.open(streaming_meter(), server.port());
  REQUIRE(server.accept());
  server.hang_up();
  server.stop_listening();
  REQUIRE(bench.until_state(LinkState::lost));
  bench.meter->stop();
  const auto before = std::chrono::steady_clock::now();
  bench.loop.run();
  CHECK(std::chrono::steady_clock::now() - before < std::chrono::milliseconds{500});
}
