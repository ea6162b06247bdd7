// Follows the chain of one record as the store keeps it and holds the tables against it, batch after batch: the one place
// that decides whether what is shown is what was written.
#pragma once

#include <functional>
#include <nlohmann/json_fwd.hpp>
#include <string>

#include "record/database.hpp"

namespace switchwright {

/// What the walk found. The record goes as far as the links could be read.
struct ChainWalk {
  std::string fault;  ///< one sentence on the first break; empty: whole
  std::string head;   ///< SHA-256 of the last link, recomputed
  std::int64_t links = 0;
};

/// Inside one Snapshot. Every column of every table is compared with the chain, then the end that was noted.
/// @param take gets each link that can be read as JSON, whether or not it holds: what was written, not what the tables
/// say now. Where a link cannot be read, what the tables say of it.
ChainWalk walk_chain(const Database& database, const std::string& record_id,
                     const std::function<void(const nlohmann::json&)>& take);

/// The header as the tables have it, in the shape of the first link.
nlohmann::json stored_header(const Database& database, const std::string& record_id);

/// Where a record's chain ends, as noted with each batch beside the chain.
struct ChainEnd {
  std::int64_t links = 0;
  std::string head;
  bool operator==(const ChainEnd&) const = default;
};
/// As noted; nothing noted: no links.
ChainEnd noted_end(const Database& database, const std::string& record_id);
/// As the links themselves have it.
ChainEnd found_end(const Database& database, const std::string& record_id);
void note_end(const Database& database, const std::string& record_id, const ChainEnd& end);

}  // namespace switchwright
