// The switching rules of MIL-STD-105E 4.7 and 4.8 as a state machine without a clock or a store: one lot in, the mode of the next
// out, with the reason. The standard applies them to each class of defects by itself: keep one state per part, supplier and class.
#pragma once

#include <optional>
#include <span>
#include <string>
#include <vector>

#include "switchwright/lot/plan.hpp"

namespace switchwright {

/// One lot as far as the rules care.
struct InspectedLot {
  bool accepted = true;
  bool original = true;          ///< not resubmitted: resubmitted lots are ignored
  bool between_numbers = false;  ///< reduced: accepted, but above the acceptance number
  /// How it was inspected in fact; absent: as the state before it asked. A lot that was inspected more weakly than the rules asked
  /// for cannot help the supplier: its acceptance does not count, its rejection does.
  std::optional<InspectionMode> inspected;
  long sample = 0;     ///< units inspected (double sampling: of both samples)
  long defective = 0;  ///< defective units (or defects) in it
};

/// What was agreed for a part and its supplier.
struct SwitchingAgreement {
  /// Largest total of defective units in the samples of the last `lots_for_reduced` lots that still allows reduced inspection:
  /// the number of Table VIII, looked up by whoever agrees. Absent: reduced inspection is never proposed.
  std::optional<long> limit_number;
  /// The limit is dropped by agreement (ANSI/ASQ Z1.4 8.5).
  bool limit_waived = false;
  int lots_for_reduced = 10;
  bool production_steady = false;   ///< 4.7.3 c; when it becomes false, reduced inspection ends (4.7.4 c)
  bool reduced_is_desired = false;  ///< 4.7.3 d
  int discontinue_after = 5;        ///< lots not accepted on tightened inspection (4.8); 0: never
};

struct SwitchingState {
  InspectionMode mode = InspectionMode::normal;
  bool discontinued = false;  ///< nothing is accepted any more until the supplier has acted
  /// One sentence: why the next lot is inspected so.
  std::string reason = "Inspection begins as normal.";
  bool switched = false;  ///< by the latest lot

  // What the rules count, since the mode began; resubmitted lots and lots inspected more weakly than the rules asked for count
  // only when they were rejected.
  long lots = 0;
  int accepted_in_a_row = 0;
  std::optional<long> last_rejected;   ///< which of `lots`, from 1
  int rejected_on_tightened = 0;       ///< cumulative (4.8)
  std::vector<long> recent_defective;  ///< in the samples of the latest lots, at most lots_for_reduced
};

/// The state after one lot.
SwitchingState after_lot(const SwitchingState& state, const InspectedLot& lot, const SwitchingAgreement& agreement);
/// The supplier has put right what was wrong: tightened inspection (4.8).
SwitchingState after_corrective_action(const SwitchingState& state);
/// Production became irregular, or other conditions ask for it (4.7.4 c, d): reduced inspection ends; otherwise nothing changes.
SwitchingState after_irregular_production(const SwitchingState& state, const std::string& why);
/// A whole history, oldest first.
SwitchingState state_after(std::span<const InspectedLot> lots, const SwitchingAgreement& agreement,
                           SwitchingState start = {});

/// Long-run share of accepted lots under normal and tightened inspection, from the two plans' probabilities of acceptance
/// (Stephens and Larson 1967; no reduced inspection, no discontinuation).
double scheme_acceptance(double normal_pa, double tightened_pa);

}  // namespace switchwright
