// Meters behind HID bridges and USBTMC. A socket pair that keeps messages whole (SOCK_SEQPACKET) plays the kernel's
// device: one read is one report or one answer, as with hidraw and usbtmc. Everything above the seam is the real code.
//
// Numbered reports: application note AN434 of the bridge's maker, checked against the reports it tabulates. 8-byte
// reports: from memory, no source at hand. USBTMC: USB-IF Test and Measurement Class 1.0 as Linux serves it.
#include <atomic>
#include <deque>
#include <fstream>

#include "link_fixture.hpp"
#include "meter/link/hid_bridge.hpp"
#include "meter/link/raw_endpoint.hpp"
#include "switchwright/meter/decoder.hpp"
#include "switchwright/meter/find.hpp"
#include "switchwright/meter/ports.hpp"

using namespace switchwright;
using namespace switchwright::link_test;

namespace {

// Report descriptors by USB HID 1.11, 6.2.2: usage page (vendor defined), collection, items; invented, shaped as the
// bridges' are.
const std::string vendor{"\x06\x00\xFF\x09\x01\xA1\x01\x75\x08", 9};
std::string numbered_report(unsigned char number, unsigned char count, const std::string& main) {
  return std::string{"\x95"} + static_cast<char>(count) + "\x85" + static_cast<char>(number) + "\x09\x01" + main;
}
const std::string feature{"\xB1\x02"}, input{"\x81\x02"}, output{"\x91\x02"}, end{"\xC0"};
const std::string numbered = vendor + numbered_report(1, 1, input) + numbered_report(1, 1, output) +
                             numbered_report(0x41, 1, feature) + numbered_report(0x43, 1, feature) +
                             numbered_report(0x50, 8, feature) + end;
const std::string eight_byte =
    vendor + "\x95\x08\x09\x01" + input + "\x95\x08\x09\x01" + output + "\x95\x05\x09\x01" + feature + end;
// The boot keyboard of USB HID 1.11, appendix B.1: its beginning.
const std::string keyboard{"\x05\x01\x09\x06\xA1\x01\x05\x07\x75\x01\x95\x08\x81\x02\xC0", 15};

/// What the kernel and the cable are to the link; outlives each opening.
struct Cable {
  std::string descriptor = numbered;
  std::string feature_answer;  ///< to report 0x50; empty: as it was set
  std::vector<std::string> features;
  std::atomic<int> openings{0}, clears{0};
  std::atomic<unsigned> timeout_ms{0};
  std::atomic<bool> there{true};
  Descriptor far;  ///< the meter's end

  std::string heard() const { return read_now(far.get()); }
  void send(std::string_view report) const { write_all(far.get(), report); }
};

class PlayedDevice final : public RawDevice {
 public:
  PlayedDevice(Cable& cable, Descriptor near) : cable_(cable), near_(std::move(near)) {}
  int descriptor() const override { return near_.get(); }
  ssize_t read(char* into, std::size_t size) override {
    timeval wait{0, 80'000};  // of a USBTMC read: short, so that the test is
    ::setsockopt(near_.get(), SOL_SOCKET, SO_RCVTIMEO, &wait, sizeof wait);
    const ssize_t count = ::recv(near_.get(), into, size, 0);
    if (count == 0) errno = ENODEV;
    if (count < 0 && errno == EAGAIN) errno = ETIMEDOUT;
    return count == 0 ? -1 : count;
  }
  ssize_t write(std::string_view bytes) override {
    const ssize_t count = ::send(near_.get(), bytes.data(), bytes.size(), MSG_NOSIGNAL);
    if (count < 0 && errno == EPIPE) errno = ENODEV;
    return count;
  }
  int set_feature(std::string report) override {
    cable_.features.push_back(report);
    return 0;
  }
  std::string get_feature(unsigned char number, std::size_t size) override {
    if (!cable_.feature_answer.empty()) return cable_.feature_answer;
    for (const std::string& set : cable_.features)
      if (set[0] == static_cast<char>(number)) return set.substr(0, size);
    return {};
  }
  std::string report_descriptor() override { return cable_.descriptor; }
  int set_timeout_ms(unsigned milliseconds) override {
    cable_.timeout_ms = milliseconds;
    return 0;
  }
  int clear() override {
    ++cable_.clears;
    return 0;
  }

 private:
  Cable& cable_;
  Descriptor near_;
};

RawDeviceOpener opener_of(Cable& cable) {
  return [&cable](const std::string& path) -> std::unique_ptr<RawDevice> {
    if (!cable.there) throw Error(ErrorKind::meter, "cannot open it: no such device", path);
    int ends[2];
    REQUIRE(::socketpair(AF_UNIX, SOCK_SEQPACKET | SOCK_CLOEXEC, 0, ends) == 0);
    ::fcntl(ends[1], F_SETFL, O_NONBLOCK);
    cable.far = Descriptor{ends[1]};
    ++cable.openings;
    return std::make_unique<PlayedDevice>(cable, Descriptor{ends[0]});
  };
}

void open_raw(Bench& bench, const MeterDefinition& definition, const std::string& port, Cable& cable) {
  bench.meter =
      open_link_meter(bench.loop, bench.clock, definition, make_raw_endpoint(port, definition, opener_of(cable)),
                      std::make_unique<LineDecoder>(), bench.callbacks());
}

MeterDefinition scpi() { return load_meter_definition("scpi", {{std::string(SOURCE_DIR) + "/meters"}}); }

/// A bench meter's answers, one for each message that asks.
std::string answer_to(const std::string& message) {
  if (message == "*IDN?\n") return "Example,BM-1,4711,1.0\n";
  if (message == "SYST:ERR?\n") return "0,\"No error\"\n";
  if (message == "FUNC?\n") return "\"RES\"";  // without a line feed: the message ends with the transfer
  if (message.find('?') != std::string::npos) return "+4.70000000E+01\n";
  return {};
}

}  // namespace

TEST_CASE("a report descriptor says which bridge it is, and a keyboard is none") {
  CHECK(hid_bridge_kind(numbered) == HidBridgeKind::numbered_reports);
  CHECK(hid_bridge_kind(eight_byte) == HidBridgeKind::eight_byte_reports);
  CHECK_FALSE(hid_bridge_kind(keyboard));
  CHECK_FALSE(hid_bridge_kind(""));
  for (std::size_t cut = 0; cut < numbered.size() - 6; ++cut) CHECK_FALSE(hid_bridge_kind(numbered.substr(0, cut)));
}

TEST_CASE("numbered reports carry the meter's bytes, however long the kernel makes them") {
  HidBridge bridge{HidBridgeKind::numbered_reports, streaming_meter().link};
  CHECK(bridge.decode({"\x03"
                       "12\n",
                       4}) == "12\n");
  CHECK(bridge.decode(std::string{"\x02"
                                  "7\n",
                                  3} +
                      std::string(61, '\0')) == "7\n");  // padded to 64
  CHECK(bridge
            .decode({"\x05"
                     "12",
                     3})
            .empty());                            // torn
  CHECK(bridge.decode({"\x41\x01", 2}).empty());  // no data report
  CHECK(bridge.decode("").empty());
  CHECK(bridge.strange_reports() == 2);
  const auto reports = bridge.encode(std::string(64, 'x'));
  REQUIRE(reports.size() == 2);
  CHECK(reports[0] == "\x3F" + std::string(63, 'x'));
  CHECK(reports[1] == "\x01x");
}

TEST_CASE("the UART of a numbered bridge is set up and switched on before anything is read") {
  LinkSettings link;
  link.baud = 2400;  // 0x00000960
  link.data_bits = 7;
  link.parity = Parity::odd;
  const auto reports = HidBridge{HidBridgeKind::numbered_reports, link}.set_up();
  REQUIRE(reports.size() == 3);
  CHECK(reports[0] == std::string("\x50\x00\x00\x09\x60\x01\x00\x02\x00", 9));
  CHECK(reports[1] == std::string("\x41\x01", 2));
  CHECK(reports[2] == std::string("\x43\x03", 2));
}

TEST_CASE("8-byte reports carry up to seven bytes and lose the eighth bit where the frame has seven") {
  LinkSettings link;
  link.baud = 2400;
  HidBridge bridge{HidBridgeKind::eight_byte_reports, link};
  CHECK(bridge.decode({"\xF3"
                       "ab\xB7"
                       "junk",
                       8}) == "ab\xB7");
  CHECK(bridge
            .decode({"\xF0"
                     "1234567",
                     8})
            .empty());
  CHECK(bridge
            .decode({"\xF8"
                     "1234567",
                     8})
            .empty());
  CHECK(bridge.set_up() == std::vector<std::string>{std::string("\0\x60\x09\0\0\x03", 6)});
  link.data_bits = 7;
  CHECK(HidBridge{HidBridgeKind::eight_byte_reports, link}.decode({"\xF1\xB7"
                                                                   "123456",
                                                                   8}) == "\x37");
}

TEST_CASE("readings come through a HID bridge, and it is found again after it was unplugged") {
  Cable cable;
  Bench bench;
  open_raw(bench, streaming_meter(), "hid:/dev/hidraw7", cable);
  REQUIRE(cable.features.size() == 3);
  cable.send(
      {"\x04"
       "12.5",
       5});
  cable.send({"\x01\n", 2});
  REQUIRE(bench.until([&] { return bench.readings.size() == 1; }));
  cable.there = false;
  cable.far.close();
  REQUIRE(bench.until_state(LinkState::lost));
  CHECK(contains(bench.changes.back().detail, "put the cable back"));
  cable.there = true;
  REQUIRE(bench.until([&] { return cable.openings == 2; }));
  cable.send(
      {"\x02"
       "3\n",
       3});
  REQUIRE(bench.until([&] { return bench.readings.size() == 2; }));
  CHECK(bench.values() == std::vector<double>{12.5, 3});
}

TEST_CASE("what cannot work through a HID device is refused with the reason") {
  struct Row {
    const char* what;
    std::string descriptor;
    std::string feature_answer;
    bool asks;
    const char* says;
  };
  const Row rows[] = {
      {"a keyboard", keyboard, "", false, "not one of the two kinds"},
      {"another speed than asked for", numbered, std::string("\x50\x00\x01\xC2\x00\x00\x00\x03\x00", 9), false,
       "did not take"},
      {"asking through 8-byte reports", eight_byte, "", true, "must be asked"},
  };
  for (const Row& row : rows) {
    CAPTURE(row.what);
    Cable cable;
    cable.descriptor = row.descriptor;
    cable.feature_answer = row.feature_answer;
    Bench bench;
    const Error error =
        error_of([&] { open_raw(bench, row.asks ? scpi() : streaming_meter(), "hid:/dev/hidraw7", cable); });
    CHECK(contains(error.what(), row.says));
    CHECK(cable.heard().empty());
  }
}

TEST_CASE("a bench meter is asked over USBTMC, message by message") {
  Cable cable;
  Bench bench;
  const MeterDefinition definition = scpi();
  std::vector<std::string> messages;
  bench.meter = open_link_meter(bench.loop, bench.clock, definition,
                                make_raw_endpoint("usbtmc:/dev/usbtmc7", definition, opener_of(cable)),
                                make_decoder(definition), bench.callbacks());
  bench.meter->select(Quantity::resistance);
  const auto meter = [&] {
    const std::string message = cable.heard();
    if (message.empty()) return;
    messages.push_back(message);
    if (const std::string answer = answer_to(message); !answer.empty()) cable.send(answer);
  };
  REQUIRE(bench.until([&] { return bench.readings.size() >= 2; }, meter));
  CHECK(bench.meter->identity() == "Example,BM-1,4711,1.0");
  CHECK(bench.values().front() == 47.0);
  CHECK(cable.timeout_ms >= 500);
  for (const std::string& message : messages) CHECK(std::count(message.begin(), message.end(), '\n') == 1);
}

TEST_CASE("a USBTMC meter that never answers is cleared, said to be silent, and the loop goes on meanwhile") {
  Cable cable;
  Bench bench;
  MeterDefinition definition = scpi();
  definition.poll->timeout_s = 0.1;
  definition.link.silent_after_s = 0.2;
  bench.meter = open_link_meter(bench.loop, bench.clock, definition,
                                make_raw_endpoint("usbtmc:/dev/usbtmc7", definition, opener_of(cable)),
                                make_decoder(definition), bench.callbacks());
  auto last = std::chrono::steady_clock::now();
  auto longest = std::chrono::steady_clock::duration::zero();
  (void)bench.until([&] { return cable.clears >= 3; },
                    [&] {
                      const auto now = std::chrono::steady_clock::now();
                      longest = std::max(longest, now - last);
                      last = now;
                      (void)cable.heard();
                    });
  CHECK(cable.clears >= 3);                        // once at opening, then after each read in vain
  CHECK(longest < std::chrono::milliseconds{60});  // a read in vain takes 80 ms of the other thread
}

TEST_CASE("USBTMC carries nothing but SCPI") {
  CHECK(contains(error_of([] { (void)make_raw_endpoint("usbtmc:/dev/usbtmc0", streaming_meter()); }).what(),
                 "does not speak SCPI"));
  CHECK(contains(error_of([] { (void)make_raw_endpoint("hid:", streaming_meter()); }).what(), "no device is named"));
}

TEST_CASE("a device that is not there is said with what to do") {
  Bench bench;
  const Error error = error_of([&] { bench.open(streaming_meter(), "hid:/dev/no-such-hidraw"); });
  CHECK(error.kind() == ErrorKind::meter);
  CHECK(contains(error.what(), "switchwright ports"));
}

TEST_CASE(
    "bridges and USBTMC devices are listed with their identity, keyboards are not, and none is listened to unasked") {
  namespace fs = std::filesystem;
  const fs::path root = fs::temp_directory_path() / ("raw-ports-" + std::to_string(::getpid()));
  fs::remove_all(root);
  const auto file = [&](const fs::path& name, const std::string& text) {
    fs::create_directories((root / name).parent_path());
    std::ofstream(root / name, std::ios::binary) << text;
  };
  const auto usb = [&](const std::string& socket, const std::string& below, const std::string& as,
                       const std::string& node) {
    const fs::path at = "sys/devices/pci0/usb1/" + socket;
    file(at / "idVendor", "0abc\n");
    file(at / "idProduct", "1234\n");
    file(at / "product", "Example cable\n");
    fs::create_directories(root / at / below);
    fs::create_directories((root / "sys/class" / as).parent_path());
    fs::create_directories(root / "sys/class" / as);
    fs::create_symlink(root / at / below, root / "sys/class" / as / "device");
    file("dev/" + node, "");
  };
  usb("1-2", "1-2:1.0/0003:0ABC:1234.0001", "hidraw/hidraw0", "hidraw0");
  usb("1-3", "1-3:1.0/0003:0ABC:1234.0002", "hidraw/hidraw1", "hidraw1");
  usb("1-4", "1-4:1.0", "usbmisc/usbtmc0", "usbtmc0");
  file("sys/devices/pci0/usb1/1-2/1-2:1.0/0003:0ABC:1234.0001/report_descriptor", numbered);
  file("sys/devices/pci0/usb1/1-3/1-3:1.0/0003:0ABC:1234.0002/report_descriptor", keyboard);
  const auto ports = list_ports(root);
  fs::remove_all(root);
  REQUIRE(ports.size() == 2);
  CHECK(ports[0].device == "hid:/dev/hidraw0");
  CHECK(ports[0].product == "Example cable");
  CHECK(ports[0].by_path == "1-2:1.0");
  CHECK(ports[1].device == "usbtmc:/dev/usbtmc0");
  for (const PortInfo& port : ports) CHECK(contains(left_alone_because(port), "--port " + port.device));
}
