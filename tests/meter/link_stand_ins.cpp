// Stand-ins until the definitions and decoders are merged; delete this file then.
#include "switchwright/meter/decoder.hpp"
namespace switchwright {
__attribute__((weak)) std::uint64_t FrameCounts::rejected_total() const {
  std::uint64_t total = 0;
  for (const auto& [reason, count] : rejected) total += count;
  return total;
}
__attribute__((weak)) bool MeterDefinition::selects(Quantity quantity) const {
  for (const FunctionCommands& function : functions)
    if (function.quantity == quantity) return true;
  return false;
}
}  // namespace switchwright
