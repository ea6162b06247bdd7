// A stand-in for the outside world: a switch with faults, a meter that speaks a real meter's bytes on a real
// pseudo-terminal or TCP port, and hands that obey messages on a local socket. Nothing in here is called by the
// tool; it is reached through the link alone.
#pragma once

#include <cstdint>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "switchwright/core/clock.hpp"
#include "switchwright/core/loop.hpp"
#include "switchwright/meter/definition.hpp"
#include "switchwright/profile/fault.hpp"
#include "switchwright/profile/profile.hpp"

namespace switchwright {

struct SimulatorSettings {
  std::vector<Fault> faults;
  std::optional<double> rate_hz;  ///< readings per second; the definition's update rate when absent
  std::string link = "pty";       ///< "pty" or "tcp"
  std::uint64_t seed = 1;         ///< meter noise is repeatable
  double lead_ohm = 0.12;         ///< resistance of the two leads together
  double healthy_contact_ohm = 0.012;
  double known_source_v = 24.0;   ///< what the probes meet on the known source (AC)
};

/// Thread rule: lives on the loop's thread.
class Simulator {
 public:
  Simulator(Loop& loop, const Clock& clock, Profile profile, MeterDefinition meter, SimulatorSettings settings);
  ~Simulator();
  Simulator(const Simulator&) = delete;
  Simulator& operator=(const Simulator&) = delete;

  /// Device path, or tcp:127.0.0.1:PORT: what to give to --port.
  const std::string& port() const;
  /// Path of the hands socket: what to give to --hands sim:PATH.
  const std::string& hands_socket() const;

 private:
  struct Impl;
  std::unique_ptr<Impl> impl_;
};

}  // namespace switchwright
