// A simulated bench in this process that takes one settled reading at a time, through the simulator's real line and
// hands socket. Used for training only.
#pragma once

#include <cstdint>
#include <vector>

#include "cli/settled_reader.hpp"
#include "switchwright/core/clock.hpp"
#include "switchwright/core/loop.hpp"
#include "switchwright/profile/fault.hpp"
#include "switchwright/profile/profile.hpp"
#include "switchwright/sim/simulator.hpp"

namespace switchwright::cli {

class PracticeBench {
 public:
  PracticeBench(const Profile& profile, const MeterDefinition& meter, std::vector<Fault> faults, std::uint64_t seed)
      : simulator_(loop_, clock_, profile, meter, settings_of(std::move(faults), seed)),
        reader_(loop_, meter, simulator_.port(), "sim:" + simulator_.hands_socket(), settle_s) {}

  Indication take(const Arrangement& arrangement) { return reader_.take(arrangement); }

 private:
  static constexpr double settle_s = 0.1;
  static constexpr double rate_hz = 50.0;  // a simulated meter need not be slow

  static SimulatorSettings settings_of(std::vector<Fault> faults, std::uint64_t seed) {
    SimulatorSettings settings;
    settings.faults = std::move(faults);
    settings.seed = seed;
    settings.rate_hz = rate_hz;
    return settings;
  }

  Loop loop_;
  SystemClock clock_;
  Simulator simulator_;
  SettledReader reader_;
};

}  // namespace switchwright::cli
