// The resistance readings of a record, as judging and learning need them.
#pragma once

#include <vector>

#include "switchwright/record/record.hpp"
#include "switchwright/judge/judge.hpp"

namespace switchwright {

/// Every reading of a pair at a position, in the order taken, with what is known of the probes: a placement
/// begins when the probes were elsewhere in between, or a position is read again. Where a place was read more
/// than once, all are there; the last one counts.
std::vector<Measured> measured_in(const Record& record);

}  // namespace switchwright
