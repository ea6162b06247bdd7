#include "switchwright/profile/route.hpp"

#include <algorithm>

namespace switchwright {

namespace {

bool shares_probe(const Pair& a, const Pair& b) {
  return !a.shared_with(b).empty();
}

/// The pairs of a complete graph in an order where neighbours always share a terminal: row i of the triangle
/// is read forwards when i is even and backwards when it is odd, so that (i, n) is followed by (i+1, n) and
/// (i, i+1) by (i+1, i+2).
std::vector<Pair> there_and_back(const std::vector<std::string>& nodes) {
  std::vector<Pair> order;
  for (std::size_t i = 0; i + 1 < nodes.size(); ++i) {
    const auto begin = order.size();
    for (std::size_t j = i + 1; j < nodes.size(); ++j) order.emplace_back(nodes[i], nodes[j]);
    if (i % 2 == 1) std::reverse(order.begin() + std::ptrdiff_t(begin), order.end());
  }
  return order;
}

}  // namespace

std::vector<Placement> plan_route(const Profile& profile, const std::vector<Expectation>& expected) {
  const auto checked = [&](const Pair& pair, const std::string& position) -> const Expectation* {
    for (const Expectation& e : expected)
      if (e.pair == pair && e.position == position && e.state != PairState::not_checked) return &e;
    return nullptr;
  };
  std::vector<Pair> waiting;
  for (const Pair& pair : there_and_back(profile.nodes()))
    if (std::any_of(profile.positions.begin(), profile.positions.end(),
                    [&](const Position& p) { return checked(pair, p.id) != nullptr; }))
      waiting.push_back(pair);

  std::vector<Placement> route;
  while (!waiting.empty()) {
    auto next = waiting.begin();
    if (!route.empty()) {
      next = std::find_if(waiting.begin(), waiting.end(),
                          [&](const Pair& pair) { return shares_probe(pair, route.back().pair); });
      if (next == waiting.end()) next = waiting.begin();
    }
    Placement placement;
    placement.pair = *next;
    placement.open_everywhere = true;
    for (const Position& position : profile.positions)
      if (const Expectation* e = checked(*next, position.id)) {
        placement.positions.push_back(position.id);
        if (e->state != PairState::open) placement.open_everywhere = false;
      }
    if (route.size() % 2 == 1) std::reverse(placement.positions.begin(), placement.positions.end());
    waiting.erase(next);
    route.push_back(std::move(placement));
  }
  return route;
}

}  // namespace switchwright
