// Ports are found by reading /dev/serial and sysfs: nothing is opened and nothing is written.
#include "switchwright/meter/ports.hpp"

#include <fcntl.h>
#include <unistd.h>

#include <algorithm>
#include <cctype>
#include <fstream>
#include <map>

#include "meter/link/hid_bridge.hpp"

namespace switchwright {

namespace fs = std::filesystem;

namespace {

std::string first_line(const fs::path& file) {
  std::ifstream in(file);
  std::string line;
  std::getline(in, line);
  while (!line.empty() && std::isspace(static_cast<unsigned char>(line.back()))) line.pop_back();
  return line;
}

std::string whole(const fs::path& file) {
  std::ifstream in(file, std::ios::binary);
  std::string bytes(4096, '\0');  // the largest report descriptor there is
  in.read(bytes.data(), static_cast<std::streamsize>(bytes.size()));
  bytes.resize(static_cast<std::size_t>(in.gcount()));
  return bytes;
}

std::string lower(std::string text) {
  for (char& c : text) c = static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
  return text;
}

/// The stable names in `directory`, by the device that each points to; of several the first in the alphabet.
std::map<std::string, std::string> aliases_in(const fs::path& root, const std::string& directory) {
  std::error_code error;
  std::map<std::string, std::string> aliases;
  for (fs::directory_iterator it(root / directory.substr(1), error), end; !error && it != end; it.increment(error)) {
    std::error_code not_a_link;
    const std::string device = fs::read_symlink(it->path(), not_a_link).filename().string();
    const std::string alias = directory + "/" + it->path().filename().string();
    const auto [known, fresh] = aliases.emplace(device, alias);
    if (!fresh) known->second = std::min(known->second, alias);
  }
  return aliases;
}

std::string alias_of(const std::map<std::string, std::string>& aliases, const std::string& name) {
  const auto found = aliases.find(name);
  return found == aliases.end() ? std::string{} : found->second;
}

/// Climbs from the tty's device to the USB device that carries it; stops at the tree's root.
void read_usb_identity(fs::path at, const fs::path& root, PortInfo& port) {
  std::error_code error;
  for (; at.has_relative_path() && at != root && at != at.parent_path(); at = at.parent_path()) {
    if (!fs::exists(at / "idVendor", error)) continue;
    port.vendor_id = lower(first_line(at / "idVendor"));
    port.product_id = lower(first_line(at / "idProduct"));
    port.product = first_line(at / "product");
    port.serial = first_line(at / "serial");
    return;
  }
}

/// A built-in port that the kernel lists but that has no chip behind it.
bool is_phantom(const fs::path& tty) {
  std::error_code error;
  return fs::exists(tty / "type", error) && first_line(tty / "type") == "0";
}

/// A device of another class than a serial port; `scheme` is how --port names it.
void add_class(const fs::path& top, const std::string& directory, const std::string& scheme,
               std::vector<PortInfo>& ports) {
  std::error_code error;
  for (fs::directory_iterator it(top / directory, error), end; !error && it != end; it.increment(error)) {
    std::error_code ignored;
    const std::string name = it->path().filename().string();
    if (!name.starts_with(scheme == "hid:" ? "hidraw" : "usbtmc") || !fs::exists(top / "dev" / name, ignored)) continue;
    if (scheme == "hid:" && !hid_bridge_kind(whole(it->path() / "device/report_descriptor"))) continue;
    PortInfo port;
    port.device = scheme + "/dev/" + name;
    port.driver = scheme == "hid:" ? "hidraw" : "usbtmc";
    const fs::path device = fs::canonical(it->path() / "device", ignored);
    read_usb_identity(device, top, port);
    // The socket it sits in: the USB interface above the device, without the counters of the HID bus.
    fs::path socket = device;
    while (socket.has_relative_path() && socket != top && socket.filename().string().find(':') == std::string::npos)
      socket = socket.parent_path();
    if (scheme == "hid:" && socket.has_parent_path()) socket = socket.parent_path();
    if (!port.vendor_id.empty()) port.by_path = socket.filename().string();
    port.readable = ::faccessat(AT_FDCWD, (top / "dev" / name).c_str(), R_OK | W_OK, AT_EACCESS) == 0;
    ports.push_back(std::move(port));
  }
}

/// ttyUSB2 before ttyUSB10.
bool before(const PortInfo& a, const PortInfo& b) {
  const auto split = [](const std::string& text) {
    const auto digits = text.find_last_not_of("0123456789") + 1;
    const std::string number = text.substr(digits);
    return std::pair{text.substr(0, digits), std::pair{number.size(), number}};
  };
  return split(a.device) < split(b.device);
}

}  // namespace

std::vector<PortInfo> list_ports(const fs::path& root) {
  std::vector<PortInfo> ports;
  std::error_code error;
  const fs::path top = fs::weakly_canonical(root, error);
  const auto by_id = aliases_in(top, "/dev/serial/by-id");
  const auto by_path = aliases_in(top, "/dev/serial/by-path");
  for (fs::directory_iterator it(top / "sys/class/tty", error), end; !error && it != end; it.increment(error)) {
    std::error_code ignored;
    const fs::path tty = it->path();
    const std::string name = tty.filename().string();
    // Consoles and pseudo-terminals have no device behind them; a port whose node is missing cannot be used.
    if (!fs::exists(tty / "device", ignored) || is_phantom(tty) || !fs::exists(top / "dev" / name, ignored)) continue;
    PortInfo port;
    port.device = "/dev/" + name;
    port.by_id = alias_of(by_id, name);
    port.by_path = alias_of(by_path, name);
    port.driver = fs::read_symlink(tty / "device/driver", ignored).filename().string();
    read_usb_identity(fs::canonical(tty / "device", ignored), top, port);
    port.readable = ::faccessat(AT_FDCWD, (top / "dev" / name).c_str(), R_OK | W_OK, AT_EACCESS) == 0;
    ports.push_back(std::move(port));
  }
  add_class(top, "sys/class/hidraw", "hid:", ports);
  add_class(top, "sys/class/usbmisc", "usbtmc:", ports);
  std::sort(ports.begin(), ports.end(), before);
  return ports;
}

std::vector<PortInfo> list_ports() { return list_ports("/"); }

}  // namespace switchwright
