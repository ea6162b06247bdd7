// The resistance readings of a record, as judging and learning need them.
#pragma once

#include <set>
#include <vector>

#include "switchwright/judge/judge.hpp"
#include "switchwright/record/record.hpp"

namespace switchwright {

/// The kind of the event that says that a probe slipped and the placement was started again.
inline constexpr const char* reseated_event = "reseated";

/// The highest number that a placement of the probes has in a record, counted as measured_in() counts them.
int last_placement(const Record& record);
/// Placements in which a probe slipped: what was read in them does not count.
std::set<int> given_up_placements(const Record& record);

/// Every reading of a pair at a position, in the order taken, with what is known of the probes: which placement
/// of them it was is in the record. Of a record that an older version wrote it is concluded: a placement begins when the
/// probes were elsewhere in between, or a step is read again. Each step that comes to a place is a visit of its own;
/// a step that was read again has the same number, and the last reading of it counts. What was read in a placement
/// before a probe slipped is left out.
std::vector<Measured> measured_in(const Record& record);
/// What measured_in() leaves out of the placements that are numbered: read before a probe slipped.
std::vector<Measured> given_up_in(const Record& record);

/// The leads as this record read them: before, after, held apart.
Leads leads_in(const Record& record);

}  // namespace switchwright
