// One concrete switch in time: knob, power, and contacts that cycle while the heater is fed through them.
// Everything electrical comes from the profile's own network with the faults applied; everything thermal from
// CyclingContact. Which contacts share a bimetal follows from the network too: those that feed the same
// heater are snapped by one bimetal, and circuits with a heater each have one each.
#pragma once

#include <deque>
#include <map>
#include <memory>
#include <optional>
#include <random>
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

  /// As the part is meant to be wired; probes go by its names.
  const Profile& profile() const { return rated_; }
  const std::string& position() const { return position_; }
  bool powered() const { return power_on_; }
  /// The switch shorted the supply and its protection opened; power off and on again resets it.
  bool tripped() const { return power_on_ && (circuit() == nullptr || circuit()->shorts_the_supply()); }
  /// The bimetal of the first cycling contact, or of the one that is named.
  const CyclingContact& contact() const { return bimetals_.front().snap; }
  const CyclingContact& contact(const std::string& id) const;
  std::size_t bimetals() const { return bimetals_.size(); }
  double supply_v() const { return supply_v_; }
  double now_s() const { return now_s_; }

  /// Between two points as they are now, supply and load disconnected; infinity when nothing connects them.
  double resistance_ohm(const Pair& pair) const;
  /// R.m.s. volts between two points over the last `window_s` (0: now); nothing when one of them floats.
  std::optional<double> rms_v(const Pair& pair, double window_s) const;

 private:
  /// A stretch of time in which nothing changed.
  struct Stretch {
    double from_s = 0.0;
    double supply_v = 0.0;
    std::shared_ptr<const PoweredSwitch> circuit;  ///< nothing: power off
  };
  struct Bimetal {
    std::vector<std::string> contacts;  ///< that it moves
    std::vector<std::string> heaters;   ///< elements whose power goes through them; empty: the load itself warms it
    CyclingContact snap;
  };
  using Names = std::vector<std::string>;

  std::string cam_position() const;
  /// The knob passes a position, or stands there: contacts close anew.
  void pass(const Position& position);
  std::vector<Bimetal> make_bimetals(const SimulatorSettings& settings, double start_s) const;
  Names heaters_behind(const Contact& contact) const;
  bool cycles_now(const Bimetal& bimetal, const std::string& cam) const;
  Names opened(const Bimetal* other_than, bool and_it_too) const;
  std::vector<Fault> present_faults() const;
  std::shared_ptr<const PoweredSwitch> circuit(const Names& opened) const;
  std::shared_ptr<const PoweredSwitch> circuit() const { return circuit(opened(nullptr, false)); }
  double heat_share(const Bimetal& bimetal, bool closed) const;
  static double heating_w(const Profile& part, const PoweredSwitch& circuit, const std::vector<Fault>& faults,
                          const Names& heaters, double supply_v);
  std::optional<SnapPoints> snap_points(const Bimetal& bimetal) const;
  void warm();
  void changed(double at_s);
  void remember(double at_s) { stretches_.push_back({at_s, supply_v_, power_on_ ? circuit() : nullptr}); }
  void set_supply(double at_s);
  Interval lost_s() const;
  bool is_lost(double at_s) const;
  double next_supply_change_s(double at_s) const;

  Profile rated_;    ///< as the part is meant to be used
  Profile profile_;  ///< as it is used here: another load, perhaps
  std::vector<Fault> faults_;
  PartValues parts_;
  SimulatedPower power_;
  double mean_supply_v_ = 0.0;
  double supply_v_ = 0.0;  ///< at this moment
  double start_s_;
  double next_supply_s_;  ///< when it changes next
  std::mt19937_64 ripple_;
  std::string position_;
  std::map<std::string, std::vector<double>> closings_;  ///< ohms of a contact, closing by closing
  std::map<std::string, std::size_t> closed_times_;
  std::map<std::string, bool> closed_now_;
  bool power_on_ = false;
  std::optional<double> first_on_s_;
  std::vector<Bimetal> bimetals_;
  double now_s_;
  std::deque<Stretch> stretches_;
  mutable std::map<std::tuple<std::string, Names, Names>, std::shared_ptr<const PoweredSwitch>> circuits_;
};

}  // namespace switchwright::sim
