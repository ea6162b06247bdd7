// Is a value inside its tolerance, given that it is known only to within an uncertainty? (JCGM 106)
#pragma once

#include "switchwright/core/interval.hpp"
#include "switchwright/judge/finding.hpp"

namespace switchwright {

/// Applies a decision rule to a measured value.
/// simple: pass inside the tolerance interval (limits included), fail outside; never undecided.
/// guarded: pass when inside by at least U, fail when outside by more than U, undecided in between (guard
/// band w = U, JCGM 106 clause 8.3.2; the three answers are those of ILAC-G8's non-binary rule, its two
/// conditional zones joined). A value or U that is not a number is undecided.
Outcome decide(double value, double U, const Interval& tolerance, DecisionRule rule);

/// The same for an instrument that showed only that the value lies beyond the end of its range: more than `end` (`above`),
/// or less. True on that side, and silent about the other.
Outcome decide_beyond(double end, double U, bool above, const Interval& tolerance, DecisionRule rule);

/// Probability that the measurand is inside the tolerance interval when what is known of it is a normal
/// distribution with mean `value` and standard deviation `u` (JCGM 106 clause 7.3; u = 0 gives 0 or 1).
double conformance_probability(double value, double u, const Interval& tolerance);

}  // namespace switchwright
