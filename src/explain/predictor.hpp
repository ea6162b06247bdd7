// What a hypothesis predicts for every pair at every position. Internal to this room.
#pragma once

#include <cstddef>
#include <cstdint>
#include <map>
#include <string>
#include <unordered_map>
#include <vector>

#include "switchwright/profile/profile.hpp"
#include "switchwright/explain/hypothesis.hpp"
#include "explain/ohms.hpp"

namespace switchwright {

/// A value of the network that is not known: a resistive contact, or an element.
struct Unknown {
  enum class Kind { intact_element, drifted_element, resistive_contact };
  Kind kind = Kind::intact_element;
  std::size_t part = 0;  ///< index of contact or element
  std::size_t from = 0;
  std::size_t to = 0;
  double least_ohm = 0.0;
  double most_ohm = 0.0;
  double nominal_ohm = 0.0;
  double not_from_ohm =
      0.0;  ///< a drifted element is not inside its tolerance: (not_from, not_to) is left out
  double not_to_ohm = 0.0;
  /// The nearest value that is allowed.
  double allowed(double ohm) const;
  bool known() const { return least_ohm == most_ohm; }
};

/// The contacts of one position as they are under a scenario: all that does not depend on unknown values.
struct FixedNetwork {
  Ohms ohms;
  std::vector<char>
      unknown_there;  ///< per unknown: an open contact adds nothing, whatever its resistance when closed
};

/// A hypothesis worked out for one profile.
struct Scenario {
  std::vector<Unknown> unknowns;
  std::vector<std::size_t> node;        ///< node as probed -> node of the network
  std::vector<FixedNetwork> networks;   ///< the different ones
  std::vector<std::size_t> network_at;  ///< per position as shown: index into `networks`

  /// The networks with every unknown at its value, except `leave_out`.
  std::vector<Ohms> solved(const std::vector<double>& values, std::size_t leave_out = SIZE_MAX) const;
};

/// Which position (by index) the part behaves as at each position when its knob sits `steps` too far.
std::vector<std::size_t> clocked_positions(const Profile& profile, int steps);

class Predictor {
 public:
  /// @param closed_ohm what a good closed contact, a bridge and a short have.
  Predictor(const Profile& profile, double closed_ohm);
  const Profile& profile() const { return *profile_; }
  double closed_ohm() const { return closed_ohm_; }
  std::size_t position_index(const std::string& id) const;
  std::size_t node_index(const std::string& name) const;
  std::size_t positions() const { return profile_->positions.size(); }

  /// The causes must be about this profile (or be the profile itself).
  Scenario scenario(const std::vector<Cause>& causes) const;

 private:
  struct Changes;
  std::string conducting(const Changes& changes, std::size_t position) const;
  const Ohms& contacts_only(const std::string& conducting) const;

  const Profile* profile_;
  double closed_ohm_;
  std::map<std::string, std::size_t, std::less<>> nodes_;
  struct Part {
    std::size_t from, to;
    std::vector<char> conducts;  ///< contacts: per position
  };
  std::vector<Part> contacts_;
  std::vector<Part> elements_;
  std::map<int, std::vector<std::size_t>> clocked_;
  mutable std::unordered_map<std::string, Ohms> solved_;
};

}  // namespace switchwright
