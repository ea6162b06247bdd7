// Many links may wait for their adapters at the same time. One look at /dev and /sys serves them all, and a
// new look is taken only when the kernel or udev has changed a directory, or when the last one is a second
// old.
#pragma once

#include <chrono>
#include <filesystem>
#include <optional>
#include <vector>

#include "switchwright/meter/ports.hpp"

namespace switchwright {

/// Thread rule: one owner, one thread.
class PortsWatch {
 public:
  using SteadyTime = std::chrono::steady_clock::time_point;

  /// @param root "/", or a made-up tree in tests
  explicit PortsWatch(std::filesystem::path root = "/") : root_(std::move(root)) {}

  /// The ports as they are at `now`; at most `oldest` old where no directory tells of a change.
  const std::vector<PortInfo>& ports(SteadyTime now);
  /// How often /dev and /sys were really read.
  int looks() const { return looks_; }

  static constexpr std::chrono::seconds oldest{1};

 private:
  /// When the directories that name ports were last changed; creating or removing a device node changes one.
  using Stamp = std::vector<std::filesystem::file_time_type>;
  Stamp stamp() const;

  std::filesystem::path root_;
  std::vector<PortInfo> ports_;
  Stamp stamp_;
  std::optional<SteadyTime> looked_;
  int looks_ = 0;
};

/// The watch that all links of this thread share.
PortsWatch& shared_ports_watch();

}  // namespace switchwright
