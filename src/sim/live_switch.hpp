// One concrete switch in time: knob, power, and a contact that cycles while the heater is fed through it.
// Everything electrical comes from the profile's own network with the faults applied; everything thermal from
// CyclingContact.
#pragma once

#include <deque>
#include <map>
#include <memory>
#include <optional>
#include <string>
#include <tuple>
#include <vector>

#include "sim/cycling_contact.hpp"
#include "switchwright/profile/expectation.hpp"
#include "switchwright/profile/powered.hpp"
#include "switchwright/profile/profile.hpp"
#include "switchwright/sim/simulator.hpp"

namespace switchwright::sim {

/// Pure: time is what the caller says, in seconds from a zero of its own, and never runs back.
/// Thread rule: one owner, one thread.
class LiveSwitch {
 public:
  /// Cold, at the profile's first position, power off. @throws Error(usage) for settings that cannot be.
  LiveSwitch(Profile profile, const SimulatorSettings& settings, double start_s);
  LiveSwitch(const LiveSwitch&) = delete;
  LiveSwitch& operator=(const LiveSwitch&) = delete;

  /// @throws std::invalid_argument with one clause when the profile has no [powered] part.
  void set_power(double at_s, bool on);
  void turn_knob(double at_s, const std::string& position);
  /// Lets time pass; the contact opens and closes at its exact instants.
  void advance(double to_s);

  const Profile& profile() const { return profile_; }
  const std::string& position() const { return position_; }
  bool powered() const { return power_on_; }
  /// The switch shorted the supply and its protection opened; power off and on again resets it.
  bool tripped() const { return power_on_ && (circuit() == nullptr || circuit()->shorts_the_supply()); }
  const CyclingContact& contact() const { return contact_; }

  /// Between two points as they are now, supply and load disconnected; infinity when nothing connects them.
  double resistance_ohm(const Pair& pair) const;
  /// R.m.s. volts between two points over the last `window_s` (0: now); nothing when one of them floats.
  std::optional<double> rms_v(const Pair& pair, double window_s) const;

 private:
  /// A stretch of time in which nothing changed.
  struct Stretch {
    double from_s = 0.0;
    std::shared_ptr<const PoweredSwitch> circuit;  ///< nothing: power off
  };

  std::string cam_position() const;
  std::vector<std::string> cycling_contacts(const std::string& cam) const;
  std::vector<Fault> present_faults(bool welded) const;
  std::shared_ptr<const PoweredSwitch> circuit(bool contact_closed, bool welded) const;
  std::shared_ptr<const PoweredSwitch> circuit() const {
    return circuit(contact_.closed(), contact_.welded());
  }
  double heat_share(bool contact_closed) const;
  static double heating_w(const Profile& part, const PoweredSwitch& circuit, const std::vector<Fault>& faults,
                          double supply_v);
  std::optional<SnapPoints> snap_points() const;
  void changed(double at_s);

  Profile rated_;    ///< as the part is meant to be used
  Profile profile_;  ///< as it is used here: another load, perhaps
  std::vector<Fault> faults_;
  PartValues parts_;
  SimulatedPower power_;
  double supply_v_ = 0.0;
  std::string position_;
  bool power_on_ = false;
  CyclingContact contact_;
  double now_s_;
  std::deque<Stretch> stretches_;
  mutable std::map<std::tuple<std::string, bool, bool>, std::shared_ptr<const PoweredSwitch>> circuits_;
};

}  // namespace switchwright::sim
