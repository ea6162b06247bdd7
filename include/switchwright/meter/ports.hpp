// Which ports for a meter this machine has, and what is plugged into them. Nothing is ever written to a port here.
#pragma once

#include <filesystem>
#include <string>
#include <vector>

namespace switchwright {

struct PortInfo {
  std::string device;     ///< /dev/ttyUSB0, hid:/dev/hidraw0, usbtmc:/dev/usbtmc0: as --port takes it
  std::string by_id;      ///< stable name under /dev/serial/by-id, when there is one
  std::string by_path;    ///< stable by socket, when there is one
  std::string vendor_id;  ///< USB idVendor, four hex digits, lower case; empty when not USB
  std::string product_id;
  std::string product;  ///< what the device calls itself; text from outside
  std::string serial;
  std::string driver;    ///< kernel driver
  bool readable = true;  ///< this user may open it
};

/// USB and built-in ports, HID-to-UART bridges and USBTMC devices, in natural order of their device names; a port without hardware is left out.
std::vector<PortInfo> list_ports();
/// The same below another root directory (a made-up tree in tests). Names are given as if the root were "/".
std::vector<PortInfo> list_ports(const std::filesystem::path& root);

}  // namespace switchwright
