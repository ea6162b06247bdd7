// The two probes of one simulated meter: where they stand, and what an ideal meter behind them would show.
#pragma once

#include <map>
#include <optional>
#include <random>
#include <string>
#include <vector>

#include "sim/live_switch.hpp"
#include "switchwright/hands/hands.hpp"
#include "switchwright/sim/simulator.hpp"

namespace switchwright::sim {

/// Thread rule: one owner, one thread.
class ProbePair {
 public:
  ProbePair(const SimulatorSettings& settings, Probes probes, Pair pair, std::uint64_t seed);

  Probes probes() const { return probes_; }
  const Pair& pair() const { return pair_; }
  void place(Probes probes, const Pair& pair);

  /// The value of `quantity` at the far end of the leads, averaged over `window_s` where it changes; SI unit,
  /// infinity for no end of it. The leads are part of a two-wire resistance.
  double ideal_value(const LiveSwitch& part, Quantity quantity, double window_s) const;

 private:
  double resistance_ohm(const LiveSwitch& part) const;
  double alternating_v(const LiveSwitch& part, double window_s) const;
  /// What sources of their own put between the probes, with its sign for DC.
  double foreign_v(const LiveSwitch& part, bool dc) const;
  double shown_ohm(const LiveSwitch& part, bool two_wire) const;

  double lead_ohm_;
  double known_source_v_;
  double known_source_dc_v_;
  double shorted_ohm_;
  double offset_ohm_;
  std::vector<SimulatedVolts> volts_;
  std::map<std::string, double> fingers_;
  std::mt19937_64 stray_;
  Probes probes_;
  Pair pair_;
  double stray_dc_v_ = 0.0;  ///< picked up from the room; another one with each placement
  double stray_ac_v_ = 0.0;
  double ghost_v_ = 0.0;  ///< what a high impedance shows on a floating point beside a live one
};

}  // namespace switchwright::sim
