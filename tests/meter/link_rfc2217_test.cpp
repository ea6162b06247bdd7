// RFC 2217 (October 1997), byte for byte, and against a real server: Debian's ser2net in front of a
// pseudo-terminal.
#include <fstream>

#include "link_fixture.hpp"
#include "meter/link/rfc2217.hpp"
#include "running.hpp"
#include "skip.hpp"

using namespace switchwright;
using namespace switchwright::link_test;

namespace {

std::string hex(const char* text) {
  std::string bytes;
  for (const char* at = text; *at != 0;) {
    bytes += static_cast<char>(std::stoi(std::string(at, 2), nullptr, 16));
    at += at[2] == ' ' ? 3 : 2;
  }
  return bytes;
}

LinkSettings settings() { return {2400, 7, Parity::odd, 2, true, false, 0.15}; }

}  // namespace

TEST_CASE("the greeting offers option 44 and sets every line parameter") {
  ComPortClient client(settings());
  const std::string greeting = client.greeting();
  struct Row {
    const char* what;
    const char* bytes;
  };
  // RFC 2217: IAC WILL COM-PORT-OPTION; IAC SB COM-PORT-OPTION <command> <value> IAC SE; values of sections
  // "Client to Access Server". IAC 255, WILL 251, SB 250, SE 240 (RFC 854).
  const Row rows[] = {
      {"WILL 44", "FF FB 2C"},
      {"WILL BINARY", "FF FB 00"},
      {"DO BINARY", "FF FD 00"},
      {"SET-BAUDRATE 2400", "FF FA 2C 01 00 00 09 60 FF F0"},
      {"SET-DATASIZE 7", "FF FA 2C 02 07 FF F0"},
      {"SET-PARITY odd is 2", "FF FA 2C 03 02 FF F0"},
      {"SET-STOPSIZE 2 is 2", "FF FA 2C 04 02 FF F0"},
      {"SET-CONTROL DTR on is 8", "FF FA 2C 05 08 FF F0"},
      {"SET-CONTROL RTS off is 12", "FF FA 2C 05 0C FF F0"},
  };
  for (const Row& row : rows) {
    CAPTURE(row.what);
    CHECK(contains(greeting, hex(row.bytes)));
  }
}

TEST_CASE("0xFF is doubled both ways and commands are taken out however they are cut") {
  CHECK(ComPortClient::encode("a\xFF z") == "a\xFF\xFF z");
  const std::string stream =
      hex("31 FF FF 32 FF FD 2C 33 FF FA 2C 65 00 00 09 60 FF F0 34 FF FA 2C 6B FF FF FF F0 FF F1 35");
  for (std::size_t cut = 0; cut <= stream.size(); ++cut) {
    CAPTURE(cut);
    ComPortClient client(settings());
    client.greeting();
    std::string reply;
    std::string data = client.receive(std::string_view{stream}.substr(0, cut), reply);
    data += client.receive(std::string_view{stream}.substr(cut), reply);
    CHECK(data == "1\xFF\x32\x33\x34\x35");
    CHECK(client.acknowledged() == 1);  // 101 acknowledges the speed; 107 is a notice
    CHECK(client.refused_baud() == 0);
  }
}

TEST_CASE("telnet offers are answered once and agreements are not") {
  struct Row {
    const char* what;
    const char* arrives;
    const char* reply;
  };
  const Row rows[] = {
      {"DO BINARY agrees to our offer", "FF FD 00", ""},
      {"WILL BINARY agrees to our request", "FF FB 00", ""},
      {"WILL ECHO is refused with DONT", "FF FB 01", "FF FE 01"},
      {"WILL ECHO twice is refused once", "FF FB 01 FF FB 01", "FF FE 01"},
      {"DO 24 is refused with WONT", "FF FD 18", "FF FC 18"},
      {"DONT 44 is taken without a word", "FF FE 2C", ""},
  };
  for (const Row& row : rows) {
    CAPTURE(row.what);
    ComPortClient client(settings());
    client.greeting();
    std::string reply;
    client.receive(hex(row.arrives), reply);
    CHECK(reply == hex(row.reply));
  }
}

TEST_CASE("a server that sets another speed is told") {
  FakeServer server;
  MeterDefinition definition = streaming_meter();
  definition.link = settings();
  Bench bench;
  bench.open(definition, server.port("rfc2217"));
  REQUIRE(server.accept());
  REQUIRE(bench.until_state(LinkState::open));
  server.send(hex("FF FA 2C 65 00 00 25 80 FF F0"));  // 9600
  REQUIRE(bench.until([&] { return contains(bench.changes.back().detail, "9600 baud and not at 2400"); }));
}

TEST_CASE("a server that never acknowledges is listened to all the same") {
  FakeServer server;
  Bench bench;
  bench.open(streaming_meter(), server.port("rfc2217"));
  REQUIRE(server.accept());
  std::string heard;
  REQUIRE(bench.until([&] { return contains(heard, hex("FF FB 2C")); }, [&] { heard += server.heard(); }));
  CHECK_FALSE(contains(heard, hex("FF FF FB 2C")));
  server.send("17\n");
  REQUIRE(bench.until([&] { return !bench.readings.empty(); }));
  CHECK(bench.values() == std::vector<double>{17});
}

TEST_CASE("ser2net sets the port as asked and passes readings and requests") {
  if (test::is_missing("ser2net", "ser2net")) return;
  FakeCable cable;
  std::string address;
  {
    FakeServer free_port;  // only to learn a port number that is free
    address = std::to_string(free_port.number());
  }
  const auto config = std::filesystem::temp_directory_path() / ("ser2net-" + std::to_string(::getpid()) + ".yaml");
  std::ofstream(config) << "connection: &meter\n  accepter: telnet(rfc2217),tcp,127.0.0.1," << address
                        << "\n  connector: serialdev," << cable.path() << ",9600n81,local\n";
  const Running server({"/usr/sbin/ser2net", "-n", "-c", config.string()});
  MeterDefinition definition = streaming_meter();
  definition.link = {1200, 8, Parity::none, 2, true, false, 0.5};
  definition.start_commands = {"\xFFGO"};
  Bench bench;
  REQUIRE(bench.until([&] {
    try {
      bench.open(definition, "rfc2217:127.0.0.1:" + address);
      return true;
    } catch (const Error&) {
      return false;  // not up yet
    }
  }));
  std::string heard;
  REQUIRE(bench.until([&] { return contains(heard, "GO\n"); }, [&] { heard += cable.heard(); }));
  CHECK(heard == "\xFFGO\n");
  termios line{};
  ::tcgetattr(cable.other_end(), &line);
  CHECK(::cfgetospeed(&line) == B1200);
  CHECK((line.c_cflag & CSTOPB) != 0);
  cable.send("23.5\n\xFF\n");
  REQUIRE(bench.until([&] { return !bench.readings.empty() && contains(bench.bytes, "\xFF"); }));
  CHECK(bench.values() == std::vector<double>{23.5});
  CHECK(contains(bench.bytes, "23.5\n\xFF\n"));
  bench.meter->stop();
  std::filesystem::remove(config);
}
