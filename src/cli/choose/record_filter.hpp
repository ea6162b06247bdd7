// Which records a person means.
#pragma once

#include <vector>

#include "cli/options/options.hpp"
#include "switchwright/record/record.hpp"

namespace switchwright::cli {

/// Those that fit, in their order. @throws Error(usage) for a day that is none.
std::vector<RecordSummary> matching(const std::vector<RecordSummary>& records, const RecordFilter& filter);

}  // namespace switchwright::cli
