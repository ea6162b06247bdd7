// The order in which the pairs and positions are visited, and what it costs.
//
// A person leaves the probes on a pair and turns the knob through all its positions: that is how an open
// reading gets its witness. The next pair should share a probe. A scanner changes pairs at no cost to speak
// of, and its fixture states contact, so there the knob is what should be turned least.
#pragma once

#include <cstddef>
#include <filesystem>
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

/// What each move costs, in seconds. Defaults are those of profiles/costs/person.toml.
struct RouteCost {
  std::string id = "person";
  std::string title = "A person with two probes and one knob";
  double move_one_s = 4.0;   ///< one probe to another terminal
  double move_both_s = 7.0;  ///< both probes; not less than move_one_s
  double turn_step_s = 2.0;  ///< the knob to the neighbouring position
  double change_function_s =
      5.0;                    ///< the meter's dial; a route is one sweep of one function, so see bench/plan_cost.hpp
  bool stays_on_pair = true;  ///< a pair is left only when all its positions are done (opens need a witness)
};

/// Loads costs by id ("person", "scanner": file names in the folder costs/ of one of the profile directories)
/// or path.
/// @throws Error(usage) with every mistake of the file, or with near names.
RouteCost load_route_cost(const std::string& id, const std::vector<std::filesystem::path>& profile_directories);

struct Route {
  std::vector<Placement> placements;
  double cost_s = 0.0;
  double lower_bound_s = 0.0;  ///< no order costs less
  bool optimal = false;        ///< proven: cost_s is the least there is
  double naive_cost_s = 0.0;   ///< naive_route() at the same costs
};

/// The cheapest order under the given costs.
///
/// Hands that stay on a pair: exact up to 20 placements, by dynamic programming over sets of placements.
/// Above 20 the order is searched for and `lower_bound_s` is proven: the pairs fall into groups without a
/// common terminal, and at least one move of both probes leads from group to group. All pairs of n terminals
/// always meet that bound. Hands that need not stay: the better of pair by pair and position by position;
/// where all pairs are checked at all positions and one probe at a time suffices, no mixture of the two is
/// cheaper, and `optimal` says so. The first placement and the position it starts at are free; the knob does
/// not turn past its ends.
Route plan_route(const Profile& profile, const std::vector<Expectation>& expected, const RouteCost& cost);
/// The cheapest order for a person.
std::vector<Placement> plan_route(const Profile& profile, const std::vector<Expectation>& expected);

/// The pairs as the file lists them, every placement from the first position up.
std::vector<Placement> naive_route(const Profile& profile, const std::vector<Expectation>& expected);
/// Seconds for all moves from the first reading to the last.
double route_cost_s(const Profile& profile, const std::vector<Placement>& placements, const RouteCost& cost);

}  // namespace switchwright
