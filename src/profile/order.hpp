// Orders of placements: pure combinatorics, no profile and no names.
//
// Placements are the edges of a graph whose nodes are the terminals. Two that share a terminal are neighbours
// (one probe moves); a step between others is a jump (both move). All the terminals' names are gone: an edge
// is two numbers.
#pragma once

#include <cstddef>
#include <optional>
#include <utility>
#include <vector>

namespace switchwright::order {

/// A placement: its two terminals and where on the knob's way its first and last position lie, in any unit of its own.
struct Stop {
  int first = 0;
  int second = 0;
  double low = 0.0;
  double high = 0.0;
  double span() const { return high - low; }
};

struct Costs {
  double one = 0.0;
  double both = 0.0;
  double turn = 0.0;  ///< for one unit of the knob's way
};

inline bool neighbours(const Stop& a, const Stop& b) {
  return a.first == b.first || a.first == b.second || a.second == b.first || a.second == b.second;
}

/// One stop in an order; `up` says that its positions are visited from low to high.
struct Visit {
  std::size_t stop = 0;
  bool up = true;
};

constexpr std::size_t most_exact = 20;

/// An order with the fewest jumps: exact up to most_exact stops; above that the best of a search from every
/// start.
std::vector<std::size_t> fewest_jumps(const std::vector<Stop>& stops);
/// The number below which no order can bring the jumps: connected groups less one.
std::size_t least_jumps(const std::vector<Stop>& stops);
std::size_t jumps(const std::vector<Stop>& stops, const std::vector<std::size_t>& order);

/// The cheapest directions for a given order, by dynamic programming along it.
std::vector<Visit> cheapest_directions(const std::vector<Stop>& stops, const std::vector<std::size_t>& order,
                                       const Costs& costs);
double cost_of(const std::vector<Stop>& stops, const std::vector<Visit>& visits, const Costs& costs);

/// An order searched for, for more than most_exact stops whose positions differ: from two beginnings (the
/// fewest jumps; the stops sorted by their positions) by turning pieces round and moving them, until
/// `good_enough` is reached, nothing helps any more or a fixed number of trials is spent. Repeatable.
std::vector<Visit> searched(const std::vector<Stop>& stops, const Costs& costs, double good_enough);

/// The cheapest order and directions together, exact; at most most_exact stops.
std::vector<Visit> cheapest(const std::vector<Stop>& stops, const Costs& costs);

}  // namespace switchwright::order
