// The smallest number of sets that cover everything (set cover), exactly. Internal to this room.
#pragma once

#include <cstddef>
#include <vector>

namespace switchwright {

struct Cover {
  std::vector<std::size_t> chosen;  ///< indices of sets, ascending
  bool exact = false;               ///< false: the search was cut short
};

/// @param elements number of elements, 0 .. elements - 1; one that is in no set is left out.
/// @param sets the elements of each set.
/// @param most_steps after so many branches the best cover so far is returned with exact = false.
Cover smallest_cover(std::size_t elements, const std::vector<std::vector<std::size_t>>& sets,
                     std::size_t most_steps = 1'000'000);

}  // namespace switchwright
