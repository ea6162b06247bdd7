// What a hypothesis predicts for every pair at every position. Internal to this room.
#pragma once

#include <cstddef>
#include <cstdint>
#include <map>
#include <string>
#include <unordered_map>
#include <utility>
#include <vector>

#include "explain/ohms.hpp"
#include "switchwright/explain/hypothesis.hpp"
#include "switchwright/profile/profile.hpp"

namespace switchwright {

/// A value of the network that is not known: a resistive contact, an element, or what joins two nodes that should not
/// be joined. Sound contacts are unknown too, but are no part of a hypothesis (see evidence.hpp).
struct Unknown {
  enum class Kind { intact_element, drifted_element, resistive_contact, joint };
  Kind kind = Kind::intact_element;
  std::size_t part = 0;  ///< index of contact or element
  std::size_t from = 0;
  std::size_t to = 0;
  double least_ohm = 0.0;
  double most_ohm = 0.0;
  double nominal_ohm = 0.0;
  double not_from_ohm = 0.0;  ///< a drifted element is not inside its tolerance: (not_from, not_to) is left out
  double not_to_ohm = 0.0;
  /// The nearest value that is allowed.
  double allowed(double ohm) const;
  bool known() const { return least_ohm == most_ohm; }
};

/// The contacts of one position as they are under a scenario: all that does not depend on unknown values.
struct FixedNetwork {
  std::string sound;  ///< one character per contact: '1' where it conducts and nothing is wrong with its resistance
  Ohms ohms;          ///< those contacts alone, each at its usual value
  std::vector<char> unknown_there;  ///< per unknown: an open contact adds nothing, whatever its resistance when closed
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

/// What one sound contact may have when closed: anything from nothing to the limit of the profile, each contact its own.
double most_sound_ohm(const Profile& profile, const Contact& contact);
/// What a short or a bridge may have (invented; what conducts worse is no joint but a leak).
inline constexpr double most_joint_ohm = 0.1;

/// What is taken for a sound contact where one figure must stand for all that it may have.
double usual_ohm(double most_ohm);

class Predictor {
 public:
  /// A sound contact at its least, at its usual, at its most. Pair resistances never fall when a resistor rises, so the
  /// first and the last bound every prediction.
  enum class Level { least, usual, most };
  struct ContactPart {
    std::size_t from, to;
    double most_ohm;             ///< when sound; the least is 0
    std::vector<char> conducts;  ///< per position
  };

  explicit Predictor(const Profile& profile);
  /// The same with one figure for every closed contact, bridge and short, for comparison with other solvers.
  Predictor(const Profile& profile, double closed_ohm);
  const Profile& profile() const { return *profile_; }
  const std::vector<ContactPart>& contacts() const { return contacts_; }
  /// Nothing but the contacts of a mask (FixedNetwork::sound).
  const Ohms& contacts_only(const std::string& conducting, Level level) const;
  std::size_t position_index(const std::string& id) const;
  std::size_t node_index(const std::string& name) const;
  std::size_t positions() const { return profile_->positions.size(); }
  std::size_t nodes() const { return nodes_.size(); }

  /// The causes must be about this profile (or be the profile itself).
  Scenario scenario(const std::vector<Cause>& causes) const;

 private:
  struct Changes;
  std::string conducting(const Changes& changes, std::size_t position) const;
  Unknown joint(std::size_t from, std::size_t to) const;

  const Profile* profile_;
  double most_joint_ohm_;
  std::map<std::string, std::size_t, std::less<>> nodes_;
  std::vector<ContactPart> contacts_;
  std::vector<std::pair<std::size_t, std::size_t>> elements_;
  std::map<int, std::vector<std::size_t>> clocked_;
  mutable std::unordered_map<std::string, Ohms> solved_[3];  ///< by level
};

}  // namespace switchwright
