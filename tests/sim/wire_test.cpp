#include "sim/wire.hpp"

#include <arpa/inet.h>
#include <doctest/doctest.h>
#include <netinet/in.h>
#include <termios.h>

#include "bench_time.hpp"

namespace switchwright::sim {

namespace {

RawEnd tcp_client(const std::string& port) {
  const int fd = ::socket(AF_INET, SOCK_STREAM, 0);
  sockaddr_in address{};
  address.sin_family = AF_INET;
  address.sin_port = htons(static_cast<std::uint16_t>(std::stoi(port.substr(port.rfind(':') + 1))));
  address.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
  if (::connect(fd, reinterpret_cast<const sockaddr*>(&address), sizeof address) != 0) return RawEnd{-1};
  return RawEnd{fd};
}

}  // namespace

TEST_CASE("A pseudo-terminal passes every byte value unchanged both ways") {
  std::string every;
  for (int i = 0; i < 256; ++i) every += static_cast<char>(i);
  Loop loop;
  std::string heard;
  const auto wire = pty_wire(loop, [&](std::string_view bytes) { heard += bytes; });
  RawEnd tool = RawEnd::device(wire->port());
  REQUIRE(tool.good());
  wire->send(every);
  CHECK(turn_until(loop, [&] { return tool.received().size() >= every.size(); }));
  CHECK(tool.received() == every);
  CHECK(tool.write(every));
  CHECK(turn_until(loop, [&] { return heard.size() >= every.size(); }));
  CHECK(heard == every);
}

TEST_CASE("A pseudo-terminal is raw before anybody opens it") {
  Loop loop;
  const auto wire = pty_wire(loop, [](std::string_view) {});
  const RawEnd tool = RawEnd::device(wire->port());
  termios mode{};
  REQUIRE(::tcgetattr(tool.fd(), &mode) == 0);
  CHECK((mode.c_lflag & (ICANON | ECHO | ISIG)) == 0U);
  CHECK((mode.c_oflag & OPOST) == 0U);
}

TEST_CASE("A pseudo-terminal survives a tool that closes and one that never reads") {
  Loop loop;
  const auto wire = pty_wire(loop, [](std::string_view) {});
  for (int i = 0; i < 3; ++i) {
    RawEnd tool = RawEnd::device(wire->port());
    REQUIRE(tool.good());
    tool.forget();
    wire->send("reading");
    CHECK(turn_until(loop, [&] { return tool.received() == "reading"; }));
  }
  for (int i = 0; i < 50; ++i) {
    for (int k = 0; k < 20; ++k) wire->send("nobody listens");
    turn_until(
        loop, [] { return false; }, std::chrono::milliseconds{1});
  }
  RawEnd late = RawEnd::device(wire->port());
  CHECK(turn_until(loop, [&] { return !late.received().empty(); }));
  // An old arrangement must not greet the next reader at length: of 14,000 bytes no more than the kernel's own queue holds.
  CHECK(late.received().size() <= 4096);
}

TEST_CASE("A TCP meter serves one client after another") {
  Loop loop;
  std::string heard;
  int clients = 0;
  const auto wire = tcp_wire(
      loop, [&](std::string_view bytes) { heard += bytes; }, [&] { ++clients; });
  CHECK(wire->port().starts_with("tcp:127.0.0.1:"));
  wire->send("nobody is connected");
  for (int i = 1; i <= 3; ++i) {
    RawEnd tool = tcp_client(wire->port());
    REQUIRE(tool.good());
    CHECK(turn_until(loop, [&] { return clients == i; }));
    heard.clear();
    CHECK(tool.write("READ?\n"));
    CHECK(turn_until(loop, [&] { return heard == "READ?\n"; }));
    wire->send("+1.0\n");
    CHECK(turn_until(loop, [&] { return tool.received() == "+1.0\n"; }));
  }
}

TEST_CASE("A wire may go while the loop still runs") {
  Loop loop;
  auto pty = pty_wire(loop, [](std::string_view) { FAIL("nobody should be called"); });
  auto tcp = tcp_wire(
      loop, [](std::string_view) { FAIL("nobody should be called"); }, [] {});
  const RawEnd tool = RawEnd::device(pty->port());
  CHECK(tool.write("x"));
  pty.reset();
  tcp.reset();
  loop.run();  // ends because nothing is left to wait for
}

}  // namespace switchwright::sim
