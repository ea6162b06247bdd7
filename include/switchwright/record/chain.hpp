// The hash chain of a record, apart from any store: enough to rebuild the record from it.
#pragma once

#include <functional>
#include <string>
#include <vector>

#include "switchwright/record/record.hpp"

namespace switchwright {

/// Gives the links of one record (Store::each_link(), the lines of a bag's chain.jsonl) one after another, from the first,
/// as often as it is called: a chain need not fit into memory.
using EachLink = std::function<void(const std::function<void(const std::string&)>& take)>;

/// Follows the chain and rebuilds the record with every reading. Its samples are read from the chain whenever they are
/// asked for, so `chain` must stay usable as long as the record. @throws Error(store) that names the first link that is
/// not canonical JSON or does not follow the one before.
Record record_from_chain(const EachLink& chain);
/// The same from links that are in memory; the record keeps them.
Record record_from_chain(const std::vector<std::string>& chain);

}  // namespace switchwright
