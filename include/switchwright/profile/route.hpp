// The order in which a person visits the pairs and positions.
#pragma once

#include <cstddef>
#include <string>
#include <vector>

#include "switchwright/core/pair.hpp"
#include "switchwright/profile/expectation.hpp"

namespace switchwright {

/// One place of the two probes and the positions visited there, in order.
struct Placement {
  Pair pair;
  std::vector<std::string> positions;
  bool open_everywhere = false;  ///< no position gives a finite reading: contact must be stated
};

/// Placements for all pairs that are checked somewhere: all their positions per placement, alternately up and
/// down; consecutive placements share a probe where they can.
std::vector<Placement> plan_route(const Profile& profile, const std::vector<Expectation>& expected);

}  // namespace switchwright
