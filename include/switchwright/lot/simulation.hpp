// A plan's curve by trying it: lots are made up, units drawn, counted and decided as at the bench.
#pragma once

#include <cstdint>

#include "switchwright/lot/operating_characteristic.hpp"

namespace switchwright {

struct EmpiricalPoint {
  long lots = 0, accepted = 0;
  long long inspected = 0;  ///< units, stopped as soon as the decision is certain
  double share() const { return lots == 0 ? 0.0 : static_cast<double>(accepted) / static_cast<double>(lots); }
};
/// Lots of `lot_size` units from a process that makes the share `p` defective; each sample is drawn unit by unit without return.
/// The same seed gives the same lots. @throws Error(usage) where the samples exceed the lot.
EmpiricalPoint try_plan(const StagedPlan& plan, long lot_size, double p, long lots, std::uint64_t seed);

}  // namespace switchwright
