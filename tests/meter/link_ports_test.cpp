// Serial ports from a made-up /dev and sysfs tree: layout of Documentation/ABI/testing/sysfs-bus-usb and
// sysfs-tty, links as udev's 60-serial.rules makes them. The identities are invented.
#include <unistd.h>

#include <fstream>

#include "link_fixture.hpp"
#include "meter/link/port_again.hpp"
#include "meter/link/ports_watch.hpp"
#include "switchwright/meter/ports.hpp"

using namespace switchwright;
using namespace switchwright::link_test;
namespace fs = std::filesystem;

namespace {

class FakeTree {
 public:
  FakeTree() : root_(fs::temp_directory_path() / ("ports-" + std::to_string(::getpid()))) {
    fs::remove_all(root_);
    fs::create_directories(root_ / "dev");
    fs::create_directories(root_ / "sys/class/tty/tty1");  // a console: no device behind it
    file("dev/tty1", "");
  }
  ~FakeTree() { fs::remove_all(root_); }
  FakeTree(const FakeTree&) = delete;
  FakeTree& operator=(const FakeTree&) = delete;

  const fs::path& root() const { return root_; }
  void file(const fs::path& name, const std::string& text) {
    fs::create_directories((root_ / name).parent_path());
    std::ofstream(root_ / name) << text << "\n";
  }
  void link(const fs::path& name, const fs::path& target) {
    fs::create_directories((root_ / name).parent_path());
    fs::create_symlink(target, root_ / name);
  }
  void usb_port(const std::string& tty, const std::string& socket, const std::string& serial) {
    const std::string usb = "sys/devices/pci0/usb1/" + socket;
    file(usb + "/idVendor", "0ABC");
    file(usb + "/idProduct", "1234");
    file(usb + "/product", "Example cable");
    if (!serial.empty()) file(usb + "/serial", serial);
    fs::create_directories(root_ / usb / (socket + ":1.0") / tty);
    fs::create_directories(root_ / "sys/bus/drivers/example_serial");
    link(usb + "/" + socket + ":1.0/" + tty + "/driver", root_ / "sys/bus/drivers/example_serial");
    link("sys/class/tty/" + tty + "/device", root_ / usb / (socket + ":1.0") / tty);
    file("dev/" + tty, "");
    link("dev/serial/by-path/pci-0-usb-" + socket, "../../" + tty);
    if (!serial.empty()) link("dev/serial/by-id/usb-Example_" + serial, "../../" + tty);
  }

 private:
  fs::path root_;
};

PortInfo adapter(const std::string& device, const std::string& serial, const std::string& by_path) {
  PortInfo port;
  port.device = device;
  port.vendor_id = "0abc";
  port.product_id = "1234";
  port.serial = serial;
  port.by_path = by_path;
  port.by_id = serial.empty() ? "/dev/serial/by-id/usb-Example" : "/dev/serial/by-id/usb-Example_" + serial;
  return port;
}

}  // namespace

TEST_CASE("a USB port is listed with its identity and its stable names") {
  FakeTree tree;
  tree.usb_port("ttyUSB0", "1-2", "A1");
  const auto ports = list_ports(tree.root());
  REQUIRE(ports.size() == 1);
  const PortInfo& port = ports[0];
  CHECK(port.device == "/dev/ttyUSB0");
  CHECK(port.by_id == "/dev/serial/by-id/usb-Example_A1");
  CHECK(port.by_path == "/dev/serial/by-path/pci-0-usb-1-2");
  CHECK(port.vendor_id == "0abc");
  CHECK(port.product_id == "1234");
  CHECK(port.product == "Example cable");
  CHECK(port.serial == "A1");
  CHECK(port.driver == "example_serial");
  CHECK(port.readable);
}

TEST_CASE("ports are listed in natural order and without those that have no hardware") {
  FakeTree tree;
  tree.usb_port("ttyUSB10", "1-3", "A2");
  tree.usb_port("ttyUSB2", "1-2", "");
  tree.file("sys/class/tty/ttyS0/device/type", "0");
  tree.file("sys/class/tty/ttyS0/type", "4");  // a real UART
  tree.file("dev/ttyS0", "");
  tree.file("sys/class/tty/ttyS1/type", "0");  // unknown UART: nothing there
  fs::create_directories(tree.root() / "sys/class/tty/ttyS1/device");
  tree.file("dev/ttyS1", "");
  tree.usb_port("ttyUSB5", "1-5", "A5");
  fs::remove(tree.root() / "dev/ttyUSB5");  // no node: a container, say
  std::vector<std::string> devices;
  for (const PortInfo& port : list_ports(tree.root())) devices.push_back(port.device);
  CHECK(devices == std::vector<std::string>{"/dev/ttyS0", "/dev/ttyUSB2", "/dev/ttyUSB10"});
}

TEST_CASE("a machine without sysfs or serial names has no ports and no complaint") {
  CHECK(list_ports("/no/such/root").empty());
}

TEST_CASE("an adapter is found again by its identity and another one is left alone") {
  const PortInfo with_serial = adapter("/dev/ttyUSB0", "A1", "socket-1");
  const PortInfo without = adapter("/dev/ttyUSB0", "", "socket-1");
  struct Row {
    const char* name;
    PortInfo was;
    std::vector<PortInfo> now;
    std::string device;
  };
  const Row rows[] = {
      {"not there", with_serial, {}, ""},
      {"same number", with_serial, {adapter("/dev/ttyUSB0", "A1", "socket-1")}, "/dev/ttyUSB0"},
      {"another number", with_serial, {adapter("/dev/ttyUSB1", "A1", "socket-1")}, "/dev/ttyUSB1"},
      {"another socket", with_serial, {adapter("/dev/ttyUSB1", "A1", "socket-2")}, "/dev/ttyUSB1"},
      {"its number taken by another", with_serial, {adapter("/dev/ttyUSB0", "B2", "socket-1")}, ""},
      {"no serial number, same socket among two",
       without,
       {adapter("/dev/ttyUSB3", "", "socket-9"), adapter("/dev/ttyUSB4", "", "socket-1")},
       "/dev/ttyUSB4"},
      {"no serial number, only one of its kind", without, {adapter("/dev/ttyUSB3", "", "socket-9")}, "/dev/ttyUSB3"},
      {"no serial number, two alike in other sockets",
       without,
       {adapter("/dev/ttyUSB3", "", "socket-8"), adapter("/dev/ttyUSB4", "", "socket-9")},
       ""},
  };
  for (const Row& row : rows) {
    CAPTURE(row.name);
    CHECK(port_again(row.was, row.now) == row.device);
  }
}

TEST_CASE("sixty-four links that wait share one look and a new adapter is seen at once") {
  FakeTree tree;
  tree.usb_port("ttyUSB0", "1-2", "A1");
  PortsWatch watch(tree.root());
  PortsWatch::SteadyTime now{};
  for (int link = 0; link < 64; ++link) CHECK(watch.ports(now).size() == 1);
  CHECK(watch.looks() == 1);

  tree.usb_port("ttyUSB1", "1-3", "A2");
  // A file system's clock is coarse: state that the directory changed later than the first look.
  fs::last_write_time(tree.root() / "dev", fs::file_time_type::clock::now() + std::chrono::seconds{1});
  CHECK(watch.ports(now).size() == 2);
  CHECK(watch.looks() == 2);
  (void)watch.ports(now + PortsWatch::oldest - std::chrono::milliseconds{1});
  CHECK(watch.looks() == 2);
  // What no directory tells (a file system without such times) is found a second later.
  (void)watch.ports(now + PortsWatch::oldest);
  CHECK(watch.looks() == 3);
}
