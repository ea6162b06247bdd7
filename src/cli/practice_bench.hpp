// A simulated bench in this process that takes one settled reading at a time, through the simulator's real line and
// hands socket. Used for training only.
#pragma once

#include <cstdint>
#include <memory>
#include <vector>

#include "switchwright/bench/hands.hpp"
#include "switchwright/meter/definition.hpp"
#include "switchwright/profile/fault.hpp"
#include "switchwright/profile/profile.hpp"
#include "switchwright/verify/indication.hpp"

namespace switchwright::cli {

class PracticeBench {
 public:
  PracticeBench(const Profile& profile, const MeterDefinition& meter, std::vector<Fault> faults, std::uint64_t seed);
  ~PracticeBench();
  PracticeBench(const PracticeBench&) = delete;
  PracticeBench& operator=(const PracticeBench&) = delete;

  /// Runs the loop until a reading has settled. @throws Error(meter) when none does in time.
  Indication take(const Arrangement& arrangement);

 private:
  struct Impl;
  std::unique_ptr<Impl> impl_;
};

}  // namespace switchwright::cli
