// Learning a part as work at the bench: the record holds what learning was told and every reading, so the
// profile can be made, and made again, from the record alone.
#pragma once

#include <string>
#include <vector>

#include "switchwright/learn/learn.hpp"
#include "switchwright/record/record.hpp"

namespace switchwright {

/// What learning was told before it began. @throws Error(store) when a record of kind "learn" does not say.
LearnSubject subject_of(const Record& record);

/// The last reading of every pair at every position, leads subtracted. @throws Error(usage) that names what
/// was not measured, or read open with nothing to witness that the probes touched.
std::vector<LearnReading> learn_readings(const Record& record);
/// Whether learn_readings() would give them all.
bool is_all_read(const Record& record);
/// A copy without the readings of these pairs, so that they are taken again.
Record without_pairs(Record record, const std::vector<Pair>& pairs);

struct LearnedProfile {
  LearnedPart part;                    ///< the profile commented, for review; empty when `doubtful` is not
  std::vector<LearnReading> doubtful;  ///< readings that no network of contacts and resistors gives
};
/// @param name what the file will be called, for messages.
LearnedProfile learn_from(const Record& record, const std::string& name);

}  // namespace switchwright
