// The hash chain of a record, apart from any store: enough to rebuild the record from it.
#pragma once

#include <string>
#include <vector>

#include "switchwright/record/record.hpp"

namespace switchwright {

/// Follows the chain (Store::chain(), or the lines of a bag's chain.jsonl) and rebuilds the record with every reading.
/// @throws Error(store) that names the first link that is not canonical JSON or does not follow the one before.
Record record_from_chain(const std::vector<std::string>& chain);

}  // namespace switchwright
