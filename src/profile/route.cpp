#include "switchwright/profile/route.hpp"

#include <algorithm>
#include <cmath>
#include <map>
#include <optional>

#include "profile/order.hpp"
#include "switchwright/profile/position_words.hpp"

namespace switchwright {

namespace {

/// Where each position lies on the knob's way, in seconds from the first one: steps of the knob, and what it takes to
/// warm a bulb or to switch a coil. To get from one position to another is to pass all between them.
std::vector<double> way_of(const Profile& profile, const RouteCost& cost) {
  std::vector<double> way{0.0};
  for (std::size_t i = 1; i < profile.positions.size(); ++i)
    way.push_back(way.back() + cost.turn_step_s +
                  change_s(profile, profile.positions[i - 1].id, profile.positions[i].id));
  return way;
}

/// What there is to measure: for each pair the positions where it is checked, by index, and whether any is
/// finite.
struct Task {
  Pair pair;
  std::vector<std::size_t> positions;
  std::vector<bool> open;  ///< no finite reading there; beside `positions`
  bool open_everywhere() const { return std::find(open.begin(), open.end(), false) == open.end(); }
};

/// The pairs of a complete graph in an order where neighbours always share a terminal: row i of the triangle
/// is read forwards when i is even and backwards when it is odd, so that (i, n) is followed by (i+1, n) and
/// (i, i+1) by (i+1, i+2). When all pairs are to be measured this is an order without a jump already.
std::vector<Pair> there_and_back(const std::vector<std::string>& nodes) {
  std::vector<Pair> order;
  for (std::size_t i = 0; i + 1 < nodes.size(); ++i) {
    const auto begin = order.size();
    for (std::size_t j = i + 1; j < nodes.size(); ++j) order.emplace_back(nodes[i], nodes[j]);
    if (i % 2 == 1) std::reverse(order.begin() + std::ptrdiff_t(begin), order.end());
  }
  return order;
}

std::vector<Task> tasks_of(const Profile& profile, const std::vector<Expectation>& expected,
                           const std::vector<Pair>& pairs) {
  std::map<Pair, std::map<std::string, PairState>> checked;
  for (const Expectation& e : expected)
    if (e.state != PairState::not_checked) checked[e.pair][e.position] = e.state;
  std::vector<Task> tasks;
  for (const Pair& pair : pairs) {
    const auto found = checked.find(pair);
    if (found == checked.end()) continue;
    Task task{pair, {}, {}};
    for (std::size_t i = 0; i < profile.positions.size(); ++i) {
      const auto at = found->second.find(profile.positions[i].id);
      if (at == found->second.end()) continue;
      task.positions.push_back(i);
      task.open.push_back(at->second == PairState::open);
    }
    if (!task.positions.empty()) tasks.push_back(std::move(task));
  }
  return tasks;
}

std::vector<order::Stop> stops_of(const std::vector<Task>& tasks, const std::vector<double>& way) {
  std::map<std::string, int> number;
  const auto number_of = [&](const std::string& terminal) {
    return number.emplace(terminal, static_cast<int>(number.size())).first->second;
  };
  std::vector<order::Stop> stops;
  for (const Task& task : tasks)
    stops.push_back({number_of(task.pair.first()), number_of(task.pair.second()), way[task.positions.front()],
                     way[task.positions.back()]});
  return stops;
}

Placement placement_of(const Profile& profile, const Task& task, bool up) {
  Placement placement{task.pair, {}, task.open_everywhere()};
  for (const std::size_t index : task.positions) placement.positions.push_back(profile.positions[index].id);
  if (!up) std::reverse(placement.positions.begin(), placement.positions.end());
  return placement;
}

/// Seconds that no order of these stops can do without: one probe move between any two, both where groups
/// change, and each stop's own sweep of the knob.
double bound_of(const std::vector<order::Stop>& stops, std::size_t jumps, const RouteCost& cost) {
  if (stops.empty()) return 0.0;
  double seconds = double(stops.size() - 1) * cost.move_one_s + double(jumps) * (cost.move_both_s - cost.move_one_s);
  for (const order::Stop& stop : stops) seconds += stop.span();
  return seconds;
}

bool same(double a, double b) { return std::abs(a - b) <= 1e-6 * (1.0 + std::abs(a)); }

/// Each pair once, at all its positions.
Route pair_by_pair(const Profile& profile, const std::vector<Task>& tasks, const RouteCost& cost) {
  const std::vector<order::Stop> stops = stops_of(tasks, way_of(profile, cost));
  const order::Costs costs{cost.move_one_s, cost.move_both_s, 1.0};
  const std::vector<std::size_t> in_order = order::fewest_jumps(stops);
  std::vector<order::Visit> visits = order::cheapest_directions(stops, in_order, costs);
  const bool exact = stops.size() <= order::most_exact;
  Route route;
  route.lower_bound_s = bound_of(stops, exact ? order::jumps(stops, in_order) : order::least_jumps(stops), cost);
  const bool knob_decides_too = !same(order::cost_of(stops, visits, costs), route.lower_bound_s);
  if (knob_decides_too && !exact) visits = order::searched(stops, costs, route.lower_bound_s);
  if (knob_decides_too && exact) {
    // Positions are left out here and there, so that the knob has a say in the order too.
    visits = order::cheapest(stops, costs);
    route.lower_bound_s = order::cost_of(stops, visits, costs);
  }
  for (const order::Visit& visit : visits)
    route.placements.push_back(placement_of(profile, tasks[visit.stop], visit.up));
  route.cost_s = route_cost_s(profile, route.placements, cost);
  route.optimal = same(route.cost_s, route.lower_bound_s);
  return route;
}

/// Each position once, with all the pairs that are checked there; every second position in the reverse order,
/// so that the knob turns with the probes left in place.
std::vector<Placement> position_by_position(const Profile& profile, const std::vector<Task>& tasks,
                                            const std::vector<double>& way) {
  const std::vector<std::size_t> in_order = order::fewest_jumps(stops_of(tasks, way));
  std::vector<Placement> placements;
  bool forwards = true;
  for (std::size_t position = 0; position < profile.positions.size(); ++position) {
    std::vector<std::size_t> here;
    for (const std::size_t index : in_order)
      if (std::count(tasks[index].positions.begin(), tasks[index].positions.end(), position)) here.push_back(index);
    if (!forwards) std::reverse(here.begin(), here.end());
    forwards = !forwards;
    for (const std::size_t index : here) {
      if (placements.empty() || placements.back().pair != tasks[index].pair)
        placements.push_back({tasks[index].pair, {}, tasks[index].open_everywhere()});
      placements.back().positions.push_back(profile.positions[position].id);
    }
  }
  return placements;
}

/// The least for hands that may leave a pair and come back. Every reading but the first follows a probe move
/// or a step of the knob; the knob must pass the whole range, each pair must be come to, each group of pairs
/// by a move of both.
double free_bound_of(const std::vector<Task>& tasks, const RouteCost& cost, const std::vector<double>& way) {
  if (tasks.empty()) return 0.0;
  std::size_t readings = 0;
  std::size_t low = tasks.front().positions.front();
  std::size_t high = low;
  for (const Task& task : tasks) {
    readings += task.positions.size();
    low = std::min(low, task.positions.front());
    high = std::max(high, task.positions.back());
  }
  double turns = double(high - low);
  double moves = double(tasks.size() - 1);
  const double still = std::max(0.0, double(readings - 1) - turns - moves);
  (cost.turn_step_s < cost.move_one_s ? turns : moves) += still;
  const double changes_s = way[high] - way[low] - double(high - low) * cost.turn_step_s;
  return turns * cost.turn_step_s + changes_s + moves * cost.move_one_s +
         double(order::least_jumps(stops_of(tasks, way))) * (cost.move_both_s - cost.move_one_s);
}

/// A change that takes minutes is made once and not for every pair: the positions on this side of it are done with all
/// pairs, then those beyond. Opens lose the witness on the other side, so a coil's few seconds are no reason.
constexpr double too_long_for_every_pair_s = 60.0;

std::optional<Route> split_at_slow_changes(const Profile& profile, const std::vector<Task>& tasks,
                                           const RouteCost& cost) {
  std::vector<std::size_t> side{0};
  for (std::size_t i = 1; i < profile.positions.size(); ++i)
    side.push_back(side.back() + (change_s(profile, profile.positions[i - 1].id, profile.positions[i].id) >=
                                  too_long_for_every_pair_s));
  if (side.back() == 0) return std::nullopt;
  Route route;
  for (std::size_t s = 0; s <= side.back(); ++s) {
    std::vector<Task> here;
    for (const Task& task : tasks) {
      Task part{task.pair, {}, {}};
      for (std::size_t i = 0; i < task.positions.size(); ++i)
        if (side[task.positions[i]] == s) {
          part.positions.push_back(task.positions[i]);
          part.open.push_back(task.open[i]);
        }
      if (!part.positions.empty()) here.push_back(std::move(part));
    }
    if (here.empty()) continue;
    const Route piece = pair_by_pair(profile, here, cost);
    route.placements.insert(route.placements.end(), piece.placements.begin(), piece.placements.end());
    route.lower_bound_s += piece.lower_bound_s;
  }
  route.cost_s = route_cost_s(profile, route.placements, cost);
  return route;
}

}  // namespace

double route_cost_s(const Profile& profile, const std::vector<Placement>& placements, const RouteCost& cost) {
  const std::vector<double> way = way_of(profile, cost);
  std::map<std::string, double> at;
  for (std::size_t i = 0; i < profile.positions.size(); ++i) at.emplace(profile.positions[i].id, way[i]);
  double seconds = 0.0;
  const Pair* pair = nullptr;
  const std::string* position = nullptr;
  for (const Placement& placement : placements) {
    if (pair && *pair != placement.pair)
      seconds += pair->shared_with(placement.pair).empty() ? cost.move_both_s : cost.move_one_s;
    pair = &placement.pair;
    for (const std::string& next : placement.positions) {
      if (position) seconds += std::abs(at.at(next) - at.at(*position));
      position = &next;
    }
  }
  return seconds;
}

std::vector<Placement> naive_route(const Profile& profile, const std::vector<Expectation>& expected) {
  std::vector<Placement> route;
  for (const Task& task : tasks_of(profile, expected, profile.pairs()))
    route.push_back(placement_of(profile, task, true));
  return route;
}

Route plan_route(const Profile& profile, const std::vector<Expectation>& expected, const RouteCost& cost) {
  const std::vector<Task> tasks = tasks_of(profile, expected, there_and_back(profile.nodes()));
  Route route = pair_by_pair(profile, tasks, cost);
  if (auto split = split_at_slow_changes(profile, tasks, cost); split && split->cost_s < route.cost_s)
    route = *std::move(split);
  if (!cost.stays_on_pair) {
    std::vector<Placement> by_position = position_by_position(profile, tasks, way_of(profile, cost));
    const double by_position_s = route_cost_s(profile, by_position, cost);
    if (by_position_s < route.cost_s) {
      route.placements = std::move(by_position);
      route.cost_s = by_position_s;
    }
    route.lower_bound_s = free_bound_of(tasks, cost, way_of(profile, cost));
    route.optimal = same(route.cost_s, route.lower_bound_s);
  }
  route.naive_cost_s = route_cost_s(profile, naive_route(profile, expected), cost);
  return route;
}

std::vector<Placement> plan_route(const Profile& profile, const std::vector<Expectation>& expected) {
  return plan_route(profile, expected, RouteCost{}).placements;
}

}  // namespace switchwright
