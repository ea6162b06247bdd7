// The voltages of a verdict by pair and position: what the table and the picture are laid out on.
#pragma once

#include <algorithm>
#include <map>
#include <string>
#include <utility>
#include <vector>

#include "switchwright/judge/finding.hpp"

namespace switchwright {

/// Pairs and positions in the order of measuring. Refers to the findings.
struct VoltageGrid {
  explicit VoltageGrid(const std::vector<VoltageFinding>& findings) {
    for (const VoltageFinding& f : findings) {
      if (std::find(positions.begin(), positions.end(), f.expected.position) == positions.end())
        positions.push_back(f.expected.position);
      if (std::find(pairs.begin(), pairs.end(), f.expected.pair) == pairs.end()) pairs.push_back(f.expected.pair);
      at[{f.expected.position, f.expected.pair}] = &f;
    }
  }
  const VoltageFinding* find(const std::string& position, const Pair& pair) const {
    const auto found = at.find({position, pair});
    return found == at.end() ? nullptr : found->second;
  }
  std::vector<std::string> positions;
  std::vector<Pair> pairs;
  std::map<std::pair<std::string, Pair>, const VoltageFinding*> at;
};

}  // namespace switchwright
