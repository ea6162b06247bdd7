// The simulated bench: one switch with its faults, the knob, and where the probes are. It answers what stands
// between the two probe tips, whatever meter looks at them.
#pragma once

#include <random>
#include <string>
#include <vector>

#include "sim/hands_message.hpp"
#include "switchwright/profile/expectation.hpp"
#include "switchwright/profile/fault.hpp"
#include "switchwright/profile/profile.hpp"
#include "switchwright/sim/simulator.hpp"

namespace switchwright::sim {

/// What a meter meets at the far ends of its leads.
struct AtProbes {
  double ohm = 0.0;       ///< without the leads; infinity when nothing connects the probes
  double lead_ohm = 0.0;  ///< both leads together
  double volt_dc = 0.0;
  double volt_ac = 0.0;  ///< r.m.s.
  friend bool operator==(const AtProbes&, const AtProbes&) = default;
};

class Bench {
 public:
  Bench(Profile profile, const SimulatorSettings& settings);

  /// Does what the hands ask. @returns true when that changed anything.
  /// @throws std::invalid_argument with one clause when it cannot be done.
  bool obey(const HandsMessage& message);

  const Arrangement& arrangement() const { return arrangement_; }
  const AtProbes& at_probes() const { return at_probes_; }
  const Profile& profile() const { return profile_; }

 private:
  AtProbes look();

  Profile profile_;
  std::vector<Fault> faults_;
  PartValues parts_;
  double lead_ohm_;
  double known_source_v_;
  std::mt19937_64 stray_;  ///< what an open or dead pair picks up from the room
  Arrangement arrangement_;
  AtProbes at_probes_;
};

/// The value of `quantity` that an ideal meter on those probes would show; infinity for no end of it.
double ideal_value(const AtProbes& at, Quantity quantity);

}  // namespace switchwright::sim
