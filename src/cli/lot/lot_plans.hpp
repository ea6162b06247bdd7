// From what was ordered to the plan of each defect class and the units that are drawn; from the lots of a supplier to the mode
// of the next.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "switchwright/record/store.hpp"

namespace switchwright::cli {

/// What a lot's classes are planned from.
struct LotQuality {
  int size = 0;
  std::string level;
  std::string mode;
  double critical_aql = 0.0;  ///< 0: the largest sample of the other classes
  double major_aql = 0.0;
  double minor_aql = 0.0;
  std::vector<LotClassPlan> agreed;  ///< in place of the table's
};

/// "major=50:1". @throws Error(usage).
LotClassPlan agreed_plan(const std::string& text);

/// Critical, major, minor. Critical defects are accepted on zero. @throws Error(usage) for an AQL or level that the standard
/// does not have.
std::vector<LotClassPlan> class_plans(const LotQuality& quality);

/// One lot of the history of a part from a supplier.
struct LotInHistory {
  std::string id;
  std::string lot_number;
  Wall opened{};
  std::string mode;
  std::string decision;  ///< empty: open
  int sample = 0;
  int defective = 0;
  bool between_numbers = false;
  bool original = true;           ///< not one that was resubmitted
  std::string corrective_action;  ///< before this lot
  std::optional<long> reduced_limit;
};
/// In the order in which they were opened. Part and supplier are the same whatever their case and blanks: a name typed another
/// way must not begin a history anew.
std::vector<LotInHistory> history_of(const Store& store, const std::string& part, const std::string& supplier);

struct ProposedMode {
  std::string mode;
  std::string reason;
  bool discontinued =
      false;  ///< five lots rejected on tightened inspection: nothing is accepted until the supplier has acted
};
/// @param reduced_limit as agreed with a supplier whose production is steady; absent: reduced inspection is never proposed
ProposedMode proposed_mode(const std::vector<LotInHistory>& history, std::optional<long> reduced_limit);

}  // namespace switchwright::cli
