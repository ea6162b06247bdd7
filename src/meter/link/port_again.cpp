#include "meter/link/port_again.hpp"

#include <filesystem>

namespace switchwright {

std::optional<PortInfo> port_behind(const std::string& path, const std::vector<PortInfo>& ports) {
  std::error_code error;
  const std::string device = std::filesystem::canonical(path, error).string();
  for (const PortInfo& port : ports)
    if (!port.vendor_id.empty() && (port.device == path || port.device == device)) return port;
  return std::nullopt;
}

std::string port_again(const PortInfo& was, const std::vector<PortInfo>& ports) {
  std::vector<const PortInfo*> alike;
  for (const PortInfo& port : ports)
    if (port.vendor_id == was.vendor_id && port.product_id == was.product_id && port.serial == was.serial)
      alike.push_back(&port);
  for (const PortInfo* port : alike)
    if (!was.by_path.empty() && port->by_path == was.by_path) return port->device;
  if (!was.serial.empty()) {
    for (const PortInfo* port : alike)
      if (port->by_id == was.by_id) return port->device;
  }
  return alike.size() == 1 ? alike.front()->device : std::string{};
}

}  // namespace switchwright
