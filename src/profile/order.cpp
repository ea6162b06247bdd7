#include "profile/order.hpp"

#include <algorithm>
#include <array>
#include <bit>
#include <cmath>
#include <cstdint>
#include <limits>
#include <numeric>

namespace switchwright::order {

namespace {

using Set = std::uint32_t;  // a set of stops, one bit each
constexpr Set one = 1;

std::vector<Set> neighbour_sets(const std::vector<Stop>& stops) {
  std::vector<Set> sets(stops.size(), 0);
  for (std::size_t i = 0; i < stops.size(); ++i)
    for (std::size_t j = 0; j < stops.size(); ++j)
      if (i != j && neighbours(stops[i], stops[j])) sets[i] |= one << j;
  return sets;
}

/// For every set of stops the fewest jumps that visit it, and the stops where such an order can end. Ends
/// that take more jumps need not be kept: from any end a jump leads to any stop, so a dearer end never saves
/// anything.
std::vector<std::size_t> fewest_jumps_exact(const std::vector<Stop>& stops) {
  const std::size_t n = stops.size();
  const std::vector<Set> neighbours_of = neighbour_sets(stops);
  const Set all = n == 0 ? 0 : (one << n) - 1;
  std::vector<std::uint8_t> fewest(std::size_t{all} + 1, 255);
  std::vector<Set> ends(std::size_t{all} + 1, 0);
  const auto reach = [&](Set set, std::size_t end, std::uint8_t count) {
    if (count < fewest[set]) {
      fewest[set] = count;
      ends[set] = 0;
    }
    if (count == fewest[set]) ends[set] |= one << end;
  };
  for (std::size_t i = 0; i < n; ++i) reach(one << i, i, 0);
  for (Set set = 1; set <= all && all != 0; ++set) {
    Set near = 0;
    for (Set rest = ends[set]; rest != 0; rest &= rest - 1) near |= neighbours_of[std::countr_zero(rest)];
    for (Set rest = all & ~set; rest != 0; rest &= rest - 1) {
      const auto next = static_cast<std::size_t>(std::countr_zero(rest));
      const bool jump = !(near >> next & 1);
      reach(set | one << next, next, static_cast<std::uint8_t>(fewest[set] + (jump ? 1 : 0)));
    }
    if (set == all) break;
  }
  std::vector<std::size_t> backwards;
  Set set = all;
  Set may_end = all == 0 ? 0 : ends[all];
  while (set != 0) {
    const auto end = static_cast<std::size_t>(std::countr_zero(may_end));
    backwards.push_back(end);
    const std::uint8_t count = fewest[set];
    set &= ~(one << end);
    if (set == 0) break;
    // Without a jump the one before was a neighbour; with a jump any end will do.
    may_end = fewest[set] == count ? ends[set] & neighbours_of[end] : ends[set];
  }
  std::reverse(backwards.begin(), backwards.end());
  return backwards;
}

/// From one start always to the neighbour that has the fewest neighbours left; a jump only when there is
/// none.
std::vector<std::size_t> walk(const std::vector<Stop>& stops, std::size_t start) {
  std::vector<bool> done(stops.size(), false);
  const auto left = [&](std::size_t stop) {
    std::size_t count = 0;
    for (std::size_t i = 0; i < stops.size(); ++i)
      if (!done[i] && i != stop && neighbours(stops[i], stops[stop])) ++count;
    return count;
  };
  std::vector<std::size_t> order{start};
  done[start] = true;
  while (order.size() < stops.size()) {
    std::size_t best = stops.size();
    std::pair<bool, std::size_t> best_rank{true, std::numeric_limits<std::size_t>::max()};
    for (std::size_t i = 0; i < stops.size(); ++i) {
      if (done[i]) continue;
      const std::pair<bool, std::size_t> rank{!neighbours(stops[i], stops[order.back()]), left(i)};
      if (best == stops.size() || rank < best_rank) {
        best = i;
        best_rank = rank;
      }
    }
    done[best] = true;
    order.push_back(best);
  }
  return order;
}

double move(const Stop& a, const Stop& b, const Costs& costs) { return neighbours(a, b) ? costs.one : costs.both; }
double starts_at(const Stop& stop, bool up) { return up ? stop.low : stop.high; }
double ends_at(const Stop& stop, bool up) { return up ? stop.high : stop.low; }

double step(const Stop& from, bool from_up, const Stop& to, bool to_up, const Costs& costs) {
  return move(from, to, costs) + costs.turn * (std::abs(ends_at(from, from_up) - starts_at(to, to_up)) + to.span());
}

}  // namespace

std::size_t jumps(const std::vector<Stop>& stops, const std::vector<std::size_t>& order) {
  std::size_t count = 0;
  for (std::size_t i = 1; i < order.size(); ++i)
    if (!neighbours(stops[order[i - 1]], stops[order[i]])) ++count;
  return count;
}

std::size_t least_jumps(const std::vector<Stop>& stops) {
  std::vector<bool> seen(stops.size(), false);
  std::size_t groups = 0;
  for (std::size_t start = 0; start < stops.size(); ++start) {
    if (seen[start]) continue;
    ++groups;
    std::vector<std::size_t> group{start};
    seen[start] = true;
    for (std::size_t i = 0; i < group.size(); ++i)
      for (std::size_t j = 0; j < stops.size(); ++j)
        if (!seen[j] && neighbours(stops[group[i]], stops[j])) {
          seen[j] = true;
          group.push_back(j);
        }
  }
  return groups == 0 ? 0 : groups - 1;
}

std::vector<std::size_t> fewest_jumps(const std::vector<Stop>& stops) {
  std::vector<std::size_t> best(stops.size());
  std::iota(best.begin(), best.end(), std::size_t{0});
  const std::size_t bound = least_jumps(stops);
  if (jumps(stops, best) == bound) return best;
  if (stops.size() <= most_exact) return fewest_jumps_exact(stops);
  for (std::size_t start = 0; start < stops.size() && jumps(stops, best) > bound; ++start) {
    std::vector<std::size_t> order = walk(stops, start);
    if (jumps(stops, order) < jumps(stops, best)) best = std::move(order);
  }
  return best;
}

std::vector<Visit> cheapest_directions(const std::vector<Stop>& stops, const std::vector<std::size_t>& order,
                                       const Costs& costs) {
  struct Cell {
    double cost;
    bool before_up;
  };
  std::vector<std::array<Cell, 2>> table;  // by place in the order and direction
  for (std::size_t i = 0; i < order.size(); ++i) {
    const Stop& here = stops[order[i]];
    table.push_back({});
    for (const bool up : {false, true}) {
      Cell& cell = table[i][up];
      if (i == 0) {
        cell = {costs.turn * here.span(), true};
        continue;
      }
      const Stop& before = stops[order[i - 1]];
      const double after_down = table[i - 1][0].cost + step(before, false, here, up, costs);
      const double after_up = table[i - 1][1].cost + step(before, true, here, up, costs);
      cell = after_up <= after_down ? Cell{after_up, true} : Cell{after_down, false};
    }
  }
  std::vector<Visit> visits(order.size());
  bool up = table.empty() || table.back()[1].cost <= table.back()[0].cost;
  for (std::size_t i = order.size(); i-- > 0;) {
    visits[i] = {order[i], up};
    up = table[i][up].before_up;
  }
  return visits;
}

double cost_of(const std::vector<Stop>& stops, const std::vector<Visit>& visits, const Costs& costs) {
  double total = 0.0;
  for (std::size_t i = 0; i < visits.size(); ++i) {
    const Stop& here = stops[visits[i].stop];
    total += i == 0 ? costs.turn * here.span()
                    : step(stops[visits[i - 1].stop], visits[i - 1].up, here, visits[i].up, costs);
  }
  return total;
}

std::vector<Visit> searched(const std::vector<Stop>& stops, const Costs& costs, double good_enough) {
  int trials_left = 20000;
  const auto cost_with = [&](const std::vector<std::size_t>& order) {
    --trials_left;
    return cost_of(stops, cheapest_directions(stops, order, costs), costs);
  };
  const auto enough = [&](double cost) { return trials_left <= 0 || cost <= good_enough * (1.0 + 1e-9); };

  std::vector<std::size_t> best = fewest_jumps(stops);
  double best_cost = cost_with(best);
  std::vector<std::size_t> by_position = best;
  std::stable_sort(by_position.begin(), by_position.end(), [&](std::size_t a, std::size_t b) {
    return std::pair(stops[a].low, stops[a].high) < std::pair(stops[b].low, stops[b].high);
  });
  if (const double cost = cost_with(by_position); cost < best_cost) {
    best = std::move(by_position);
    best_cost = cost;
  }
  for (bool improved = true; improved && !enough(best_cost);) {
    improved = false;
    for (std::size_t from = 0; from < best.size(); ++from)
      for (std::size_t to = from + 1; to <= best.size() && !enough(best_cost); ++to) {
        std::vector<std::size_t> turned = best;
        std::reverse(turned.begin() + std::ptrdiff_t(from), turned.begin() + std::ptrdiff_t(to));
        std::vector<std::size_t> moved = best;  // the piece goes to the front
        std::rotate(moved.begin(), moved.begin() + std::ptrdiff_t(from), moved.begin() + std::ptrdiff_t(to));
        for (std::vector<std::size_t>* tried : {&turned, &moved})
          if (const double cost = cost_with(*tried); cost < best_cost - 1e-9) {
            best = *tried;
            best_cost = cost;
            improved = true;
          }
      }
  }
  return cheapest_directions(stops, best, costs);
}

/// Held and Karp (1962) over sets of stops, with the direction of the last one in the state.
std::vector<Visit> cheapest(const std::vector<Stop>& stops, const Costs& costs) {
  const std::size_t n = stops.size();
  if (n == 0) return {};
  const Set all = (one << n) - 1;
  constexpr float never = std::numeric_limits<float>::infinity();
  std::vector<float> table((std::size_t{all} + 1) * n * 2, never);
  const auto cell = [&](Set set, std::size_t end, bool up) -> float& {
    return table[(std::size_t{set} * n + end) * 2 + (up ? 1 : 0)];
  };
  std::vector<float> steps(n * 2 * n * 2);
  const auto step_cost = [&](std::size_t a, bool a_up, std::size_t b, bool b_up) -> float& {
    return steps[((a * 2 + (a_up ? 1 : 0)) * n + b) * 2 + (b_up ? 1 : 0)];
  };
  for (std::size_t a = 0; a < n; ++a)
    for (std::size_t b = 0; b < n; ++b)
      for (const bool a_up : {false, true})
        for (const bool b_up : {false, true})
          step_cost(a, a_up, b, b_up) = static_cast<float>(step(stops[a], a_up, stops[b], b_up, costs));

  for (std::size_t i = 0; i < n; ++i)
    for (const bool up : {false, true}) cell(one << i, i, up) = static_cast<float>(costs.turn * stops[i].span());
  for (Set set = 1; set < all; ++set)
    for (Set in = set; in != 0; in &= in - 1) {
      const auto end = static_cast<std::size_t>(std::countr_zero(in));
      for (const bool up : {false, true}) {
        const float here = cell(set, end, up);
        if (here == never) continue;
        for (Set out = all & ~set; out != 0; out &= out - 1) {
          const auto next = static_cast<std::size_t>(std::countr_zero(out));
          for (const bool next_up : {false, true}) {
            float& there = cell(set | one << next, next, next_up);
            there = std::min(there, here + step_cost(end, up, next, next_up));
          }
        }
      }
    }

  Visit last{0, true};
  for (std::size_t end = 0; end < n; ++end)
    for (const bool up : {false, true})
      if (cell(all, end, up) < cell(all, last.stop, last.up)) last = {end, up};
  std::vector<Visit> backwards{last};
  for (Set set = all; backwards.size() < n;) {
    const Set before = set & ~(one << last.stop);
    const float here = cell(set, last.stop, last.up);
    const auto leads_here = [&](std::size_t end, bool up) {
      return (before >> end & 1) && cell(before, end, up) + step_cost(end, up, last.stop, last.up) == here;
    };
    std::optional<Visit> found;
    for (std::size_t end = 0; end < n && !found; ++end)
      for (const bool up : {false, true})
        if (!found && leads_here(end, up)) found = Visit{end, up};
    set = before;
    last = found.value();
    backwards.push_back(last);
  }
  std::reverse(backwards.begin(), backwards.end());
  return backwards;
}

}  // namespace switchwright::order
