// When the decision over a lot is certain before its sample is through.
#pragma once

namespace switchwright {

/// How the sample of one class of defects stands. A unit is tested, open, or still to come.
struct SampleCount {
  long sample_size = 0;
  int accept = 0;
  int reject = 1;
  long tested = 0;     ///< decided: pass or fail
  long defective = 0;  ///< of these
  long open = 0;       ///< tested but undecided, lost, begun: may turn out defective
};

struct Curtailment {
  bool rejection_certain = false;  ///< the rejection number is reached, whatever follows
  bool acceptance_certain =
      false;                ///< the rejection number cannot be reached any more, open units counted as defective
  bool complete = false;    ///< every unit of the sample is decided
  long may_still_fail = 0;  ///< so many more defective units and the lot is still accepted
  long to_go = 0;           ///< units not decided yet
  /// On reduced inspection: accepted above the acceptance number, which ends reduced inspection.
  bool between_numbers = false;
};
/// @throws Error(usage) for counts that cannot be (more tested than the sample, more defective than tested, reject <= accept).
Curtailment curtailment(const SampleCount& count);

}  // namespace switchwright
