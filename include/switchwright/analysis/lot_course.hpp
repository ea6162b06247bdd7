// Where a lot stands: what each place of the sample amounts to, the count of each defect class, what is certain already,
// and the decision. Everything follows from the rows of the lot's record; nothing is remembered beside them.
#pragma once

#include <string>
#include <vector>

#include "switchwright/record/record.hpp"

namespace switchwright {

/// What must not count as good: a unit not tested, undecided, lost, that failed once and passed once, or that was tested on a
/// bench that was found out of order at its next check.
enum class UnitState { missing, begun, pass, fail, undecided, lost };
std::string to_string(UnitState state);  ///< "missing", "begun", "pass", "fail", "undecided", "lost"

struct LotPlaceState {
  int place = 0;
  int unit = 0;
  UnitState state = UnitState::missing;
  std::string severity;  ///< with fail
  std::string serial;
  std::string plan;         ///< of the last record
  std::string record;       ///< the one that counts: the last that failed, else the last
  std::string open_record;  ///< begun and not ended: to be gone on with
  std::string why;          ///< of undecided and lost: a clause; of fail the headline
  double work_s = 0.0;      ///< of all its records
  bool retested = false;
  bool replaced = false;
};

struct LotClassCount {
  LotClassPlan plan;
  int defective = 0;
  int defective_beyond = 0;  ///< critical ones among units that were drawn for other classes: each rejects
  int undecided = 0;         ///< begun, undecided or lost among the plan's units
  int missing = 0;
  bool rejected = false;            ///< whatever the rest is
  bool acceptance_certain = false;  ///< however bad the rest is
  int may_still_fail = 0;           ///< so many more defective units and the lot is still accepted
  bool between_numbers = false;     ///< reduced inspection: accepted above the acceptance number, which ends it
};

struct LotCourse {
  std::vector<LotPlaceState> places;
  std::vector<LotClassCount> classes;  ///< critical, major, minor, as planned
  int done = 0;                        ///< pass, fail or undecided
  int passed = 0;
  int failed = 0;
  bool rejection_certain = false;
  bool acceptance_certain = false;
  bool bench_is_out = false;  ///< the latest bench check was out
  int since_check = 0;   ///< of a lot with reference resistors: units tested after the last bench check that was in
  std::string decision;  ///< "accept", "reject", "hold": what closing it now would say
  std::string reason;    ///< one or more sentences

  /// The first place that is still to be tested; nullptr when there is none.
  const LotPlaceState* next() const;
};

/// `lot.lot` must be there. @param record_faults sentences about unit records that are not what the lot says they are: the
/// decision is then hold
LotCourse course_of(const Record& lot, const std::vector<std::string>& record_faults = {});

}  // namespace switchwright
