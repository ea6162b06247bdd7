// What the commands below "lot" share: which lot is meant, whether its units' records are what it says they are, and how it
// stands in words.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "switchwright/analysis/lot_course.hpp"
#include "switchwright/record/store.hpp"

namespace switchwright::cli {

/// The lot that is named by its number, its record's id or the beginning of it, or "latest" (also empty where there is but
/// one that is open). @throws Error(usage) with what there is; Error(store) when its chain does not hold.
Record lot_named(const Store& store, const std::string& name);

/// One sentence for each unit whose record is not what the lot says: changed, missing, or another verdict.
std::vector<std::string> record_faults(const Store& store, const Record& lot);

/// "12 of 80 done: 11 good, 1 defective (critical 0, major 1, minor 0); may still fail: ...".
/// @param seconds_per_unit of this sitting; absent: not known yet
std::string progress_line(const LotCourse& course, std::optional<double> seconds_per_unit);
/// The same as one JSON object.
std::string progress_json(const std::string& lot_id, const LotCourse& course, std::optional<double> seconds_per_unit);

/// What is certain by now, one sentence; empty while nothing is.
std::string certainty_words(const LotCourse& course);

/// "12 min", "2 h 5 min".
std::string rough_time(double seconds);

/// 0 accept, 1 reject, 3 hold.
int exit_code_of_decision(const std::string& decision);

}  // namespace switchwright::cli
