// What a meter should read between two terminals at a position, derived from the profile's network.
//
// The resistance between two terminals never falls when any resistor of the network rises (Rayleigh's
// monotonicity law), so the expected reading is exactly the interval from the network with every resistor at
// its minimum to the one with every resistor at its maximum: two solves, no sampling.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "switchwright/core/interval.hpp"
#include "switchwright/core/pair.hpp"
#include "switchwright/profile/fault.hpp"
#include "switchwright/profile/network.hpp"
#include "switchwright/profile/profile.hpp"

namespace switchwright {

enum class PairState {
  open,         ///< nothing but open contacts between the two
  closed,       ///< joined by closed contacts alone
  element,      ///< joined through a resistive part
  not_checked,  ///< the profile leaves it out
};
std::string to_string(PairState state);  ///< "open", "closed", "element", "not-checked"

struct Expectation {
  std::string position;
  Pair pair;
  PairState state = PairState::open;
  Interval ohm;                       ///< [min, max]; max infinite for open
  std::optional<double> nominal_ohm;  ///< absent when infinite
  /// The same pair with every closed contact at what it has at most when it is sound (profile/contact_limits.hpp). For
  /// closed pairs, and for elements as small as contacts.
  std::optional<double> sound_max_ohm;
  bool can_make_live = false;  ///< a wrongly low reading could put the supply on the load or on exposed metal
  std::string reason;          ///< for not_checked
};

/// Every position and pair, positions in the file's order, pairs in the order of Profile::pairs().
std::vector<Expectation> expectations(const Profile& profile);
/// The same for one position and pair. @throws std::out_of_range for names the profile does not have.
Expectation expectation(const Profile& profile, const std::string& position, const Pair& pair);

/// The value each part takes when a profile becomes one concrete switch.
struct PartValues {
  double closed_contact_ohm = 0.01;
  double open_contact_ohm = 1e300;  ///< 1e300 and above count as no connection
};
/// The profile's network at a position with elements at nominal and the given faults applied.
Network network_of(const Profile& profile, const std::string& position, const PartValues& values,
                   const std::vector<Fault>& faults = {});

}  // namespace switchwright
