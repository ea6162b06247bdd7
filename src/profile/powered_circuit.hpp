// The powered circuit in one state (which cycling contacts have opened, which lamps have struck), and what every pair
// of points reads in it with all parts anywhere within their limits.
#pragma once

#include <complex>
#include <optional>
#include <string>
#include <vector>

#include "switchwright/core/interval.hpp"
#include "switchwright/core/pair.hpp"
#include "switchwright/profile/network.hpp"
#include "switchwright/profile/profile.hpp"

namespace switchwright {

/// @throws Error(usage) when the profile has no [powered] part.
const Powered& powered_of(const Profile& profile);
/// Where earth is, as a phasor: the source's minus end at 0, its plus end at 1.
std::complex<double> earth_phasor(const Powered& powered);
bool is_bonded_metal(const Profile& profile, const std::string& node);
/// Both points are ends of the supply or bonded metal: what they read is the supply's doing alone.
bool is_of_the_supply(const Profile& profile, const Pair& pair);

struct CircuitState {
  std::vector<std::string> opened;  ///< cycling contacts
  std::vector<std::string> lit;     ///< lamps with a striking voltage, inside the part or outside
};

/// Every state that a good part can be in at a position; all contacts closed comes first.
std::vector<CircuitState> circuit_states(const Profile& profile, const std::string& position);

/// What one pair reads in one state, as shares of the supply.
struct PairBand {
  enum class Kind {
    solved,
    floats,     ///< nothing joins one of the two to the supply
    lamp_only,  ///< nothing but a lamp that has not struck does
    unsolved,   ///< more parts than are solved
  };
  Kind kind = Kind::solved;
  Interval share{0.0, 0.0};  ///< solved
  double nominal = 0.0;      ///< solved, unsolved
  double join = 0.0;         ///< floats: the most that a bare join to the supply would show
};

/// In the order of the pairs.
std::vector<PairBand> pair_bands(const Profile& profile, const std::string& position, const CircuitState& state,
                                 const std::vector<Pair>& pairs);

}  // namespace switchwright
