// Parts by operators by repeats, in the order in which they were named first.
#pragma once

#include <algorithm>
#include <map>
#include <string>
#include <utility>
#include <vector>

#include "switchwright/core/error.hpp"

namespace switchwright {

template <class Value>
class Crossed {
 public:
  std::vector<std::string> parts, operators;
  std::size_t repeats = 0;  ///< after check()

  void add(const std::string& part, const std::string& who, Value value) {
    cells_[{index(parts, part), index(operators, who)}].push_back(value);
  }
  const std::vector<Value>& cell(std::size_t part, std::size_t who) const { return cells_.at({part, who}); }

  /// Every part by every operator equally often. @throws Error(usage) that names what is missing.
  void check(std::size_t least_parts, std::size_t least_operators, std::size_t least_repeats) {
    const auto need = [](std::size_t have, std::size_t least, const char* noun) {
      if (have < least)
        throw Error(ErrorKind::usage, "a study needs at least " + std::to_string(least) + " " + noun +
                                          "; this one has " + std::to_string(have));
    };
    need(parts.size(), least_parts, "parts");
    need(operators.size(), least_operators, "operators");
    repeats = cells_.begin()->second.size();
    for (std::size_t i = 0; i < parts.size(); ++i)
      for (std::size_t j = 0; j < operators.size(); ++j) {
        const auto found = cells_.find({i, j});
        const std::size_t have = found == cells_.end() ? 0 : found->second.size();
        if (have != repeats)
          throw Error(ErrorKind::usage,
                      "part " + parts[i] + " was done " + std::to_string(have) + " times by " + operators[j] +
                          ", part " + parts[0] + " " + std::to_string(repeats) + " times by " + operators[0],
                      "", "every part must be done equally often by every operator");
      }
    need(repeats, least_repeats, "repeats of each part");
  }

 private:
  static std::size_t index(std::vector<std::string>& names, const std::string& name) {
    const auto found = std::find(names.begin(), names.end(), name);
    if (found != names.end()) return static_cast<std::size_t>(found - names.begin());
    names.push_back(name);
    return names.size() - 1;
  }
  std::map<std::pair<std::size_t, std::size_t>, std::vector<Value>> cells_;
};

}  // namespace switchwright
