#include "meter/link/ports_watch.hpp"

namespace switchwright {

const std::vector<PortInfo>& PortsWatch::ports(SteadyTime now) {
  // Taken before the look: what changes meanwhile shows as another stamp next time.
  Stamp fresh = stamp();
  if (looked_ && now - *looked_ < oldest && fresh == stamp_) return ports_;
  ports_ = list_ports(root_);
  stamp_ = std::move(fresh);
  looked_ = now;
  ++looks_;
  return ports_;
}

PortsWatch::Stamp PortsWatch::stamp() const {
  Stamp times;
  for (const char* directory : {"dev", "dev/serial", "dev/serial/by-id", "dev/serial/by-path"}) {
    std::error_code error;
    const auto changed = std::filesystem::last_write_time(root_ / directory, error);
    times.push_back(error ? std::filesystem::file_time_type::min() : changed);
  }
  return times;
}

PortsWatch& shared_ports_watch() {
  static thread_local PortsWatch watch;
  return watch;
}

}  // namespace switchwright
