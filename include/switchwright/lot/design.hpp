// Plans that are found from what is wanted instead of from the standard's tables.
#pragma once

#include <optional>

#include "switchwright/lot/operating_characteristic.hpp"

namespace switchwright {

/// Two points that a plan must keep.
struct WantedRisks {
  double good_p = 0.01;          ///< AQL as a share
  double producers_risk = 0.05;  ///< alpha: such a lot is rejected at most so often
  double bad_p = 0.05;           ///< LTPD as a share
  double consumers_risk = 0.10;  ///< beta: such a lot is accepted at most so often
};
/// The single plan with the smallest sample that keeps both; absent where none up to 100 000 units (or the lot) does.
/// @param lot_size with OcModel::lot. @throws Error(usage) for risks or shares outside (0, 1), or bad_p not above good_p.
std::optional<StagedPlan> find_single_plan(const WantedRisks& wanted, OcModel model, long lot_size = 0);

/// Zero-acceptance: the smallest sample without a defective unit that keeps the consumer's risk at `bad_p`.
/// With OcModel::lot never more than the lot. @throws Error(usage) as above.
StagedPlan zero_acceptance_plan(double bad_p, double consumers_risk, OcModel model, long lot_size = 0);

}  // namespace switchwright
