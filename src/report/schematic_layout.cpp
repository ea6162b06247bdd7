#include "report/schematic_layout.hpp"

#include <algorithm>
#include <map>
#include <numeric>

namespace switchwright::schematic {

namespace {

struct Span {
  std::size_t a, b;  // node numbers
};

/// What an order of the columns costs: `at[node]` is the column.
std::size_t cost_of(const std::vector<Span>& spans, const std::vector<std::size_t>& at) {
  constexpr std::size_t crossing = 20;
  std::size_t cost = 0;
  for (std::size_t i = 0; i < spans.size(); ++i) {
    const auto [low, high] = std::minmax(at[spans[i].a], at[spans[i].b]);
    cost += high - low;
    for (std::size_t j = i + 1; j < spans.size(); ++j) {
      const auto [from, to] = std::minmax(at[spans[j].a], at[spans[j].b]);
      if ((low < from && from < high && high < to) || (from < low && low < to && to < high)) cost += crossing;
    }
  }
  return cost;
}

std::vector<std::size_t> best_columns(std::size_t nodes, const std::vector<Span>& spans) {
  std::vector<std::size_t> at(nodes);
  std::iota(at.begin(), at.end(), 0);
  std::vector<std::size_t> best = at;
  std::size_t least = cost_of(spans, at);
  if (nodes <= 8) {
    while (std::next_permutation(at.begin(), at.end()))
      if (const std::size_t cost = cost_of(spans, at); cost < least) {
        least = cost;
        best = at;
      }
    return best;
  }
  for (bool better = true; better;) {
    better = false;
    for (std::size_t i = 0; i < nodes; ++i)
      for (std::size_t j = i + 1; j < nodes; ++j) {
        std::swap(best[i], best[j]);
        if (const std::size_t cost = cost_of(spans, best); cost < least) {
          least = cost;
          better = true;
        } else {
          std::swap(best[i], best[j]);
        }
      }
  }
  return best;
}

}  // namespace

Layout layout_of(const Profile& profile) {
  Layout layout;
  for (const Contact& contact : profile.contacts) layout.parts.push_back({&contact});
  for (const Element& element : profile.elements) layout.parts.push_back({nullptr, &element});

  std::vector<std::string> nodes;
  for (const std::string& node : profile.network_nodes()) {
    const bool joined = std::any_of(layout.parts.begin(), layout.parts.end(), [&](const Part& part) {
      return part.between().first() == node || part.between().second() == node;
    });
    if (joined || !profile.is_exposed_metal(node)) nodes.push_back(node);
  }
  std::map<std::string, std::size_t> number;
  for (const std::string& node : nodes) number.emplace(node, number.size());
  std::vector<Span> spans;
  for (const Part& part : layout.parts)
    spans.push_back({number.at(part.between().first()), number.at(part.between().second())});
  const std::vector<std::size_t> at = best_columns(nodes.size(), spans);
  layout.columns.resize(nodes.size());
  for (std::size_t i = 0; i < nodes.size(); ++i) layout.columns[at[i]] = nodes[i];

  for (std::size_t i = 0; i < layout.parts.size(); ++i) {
    const auto [left, right] = std::minmax(at[spans[i].a], at[spans[i].b]);
    layout.parts[i].left = left;
    layout.parts[i].right = right;
  }
  // Short parts first, so that the wires below which a long one passes have ended before.
  std::stable_sort(layout.parts.begin(), layout.parts.end(),
                   [](const Part& x, const Part& y) { return x.right - x.left < y.right - y.left; });
  std::vector<std::vector<const Part*>> rows;
  layout.last_row.assign(nodes.size(), Layout::npos);
  for (Part& part : layout.parts) {
    // Below everything that it passes over, too.
    std::size_t row = 0;
    for (std::size_t r = 0; r < rows.size(); ++r)
      for (const Part* other : rows[r])
        if (other->left < part.right && part.left < other->right) row = r + 1;
    part.row = row;
    if (row >= rows.size()) rows.resize(row + 1);
    rows[row].push_back(&part);
    for (const std::size_t column : {part.left, part.right})
      layout.last_row[column] = layout.last_row[column] == Layout::npos ? row : std::max(layout.last_row[column], row);
  }
  layout.rows = rows.size();
  return layout;
}

}  // namespace switchwright::schematic
