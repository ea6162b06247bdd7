#include "switchwright/core/pair.hpp"

namespace switchwright {

std::string Pair::shared_with(const Pair& other) const {
  if (other.has(first_)) return first_;
  if (other.has(second_)) return second_;
  return {};
}

}  // namespace switchwright
