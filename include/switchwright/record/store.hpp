// The record store: SQLite, written as things happen. One Batch is one transaction and one link of the hash
// chain; after append() returns, a power cut loses nothing of it.
#pragma once

#include <filesystem>
#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "switchwright/core/error.hpp"
#include "switchwright/record/record.hpp"

namespace switchwright {

/// What was kept is no longer where it was kept, or somebody else wrote in the record: going on would build on sand. Any
/// other error of append() may pass, and the batch may be appended again.
class StoreLost : public Error {
 public:
  StoreLost(std::string what_happened, std::string where, std::string what_next)
      : Error(ErrorKind::store, std::move(what_happened), std::move(where), std::move(what_next)) {}
};

/// Thread rule: one owner, one thread at a time. Other processes may use the same file meanwhile, but one record is
/// written by one Store alone.
class Store {
 public:
  /// Opens or creates the store, migrating an older schema forward.
  /// @throws Error(store): not a store, newer schema, not writable, disk full.
  /// @param busy_timeout_ms how long to wait for another process to finish writing.
  explicit Store(const std::filesystem::path& path, int busy_timeout_ms = 5000);
  ~Store();
  Store(const Store&) = delete;
  Store& operator=(const Store&) = delete;

  /// Writes the header; returns the id it assigned. The record is this Store's to write from then on.
  std::string begin(RecordHeader header);
  /// Takes a record of an earlier sitting to write in it; append() does so by itself. @throws Error(store) when another
  /// process writes it, or when its chain does not hold; Error(usage) for an unknown id.
  void take_up(const std::string& record_id);
  /// Another process (or another Store) writes the record at this moment.
  bool is_taken(const std::string& record_id) const;
  /// @throws StoreLost; Error(store) when it could not be made durable for now.
  void append(const std::string& record_id, const Batch& batch);
  /// Looks once more whether everything that append() returned for is where somebody who opens the path finds it.
  /// @throws StoreLost when it is not; Error(store) when that cannot be read now.
  void confirm(const std::string& record_id);
  /// The links to put aside: the whole record, or only `unkept`, made the link after the last one that was kept.
  /// @returns false when what was kept can no longer be given whole; then the links that are left.
  bool links_to_rescue(const std::string& record_id, const Batch& unkept, bool whole,
                       const std::function<void(std::string_view)>& take) const;
  /// What a rescue did with the links of one record.
  struct Restored {
    std::int64_t already_there = 0;
    std::int64_t added = 0;
  };
  /// Adds links of links_to_rescue() that the store lacks. @throws Error(store) when they do not follow what is there.
  Restored restore(const std::vector<std::string>& links);

  /// Newest first, each as its chain tells it, until `visit` wants no more: what is not visited costs nothing.
  /// `visit` must not use this Store.
  void walk(const std::function<bool(const RecordSummary&)>& visit) const;
  /// Those of one serial number, as the tables have it, which is quicker; each still as its chain tells it.
  void walk_serial(const std::string& serial, const std::function<bool(const RecordSummary&)>& visit) const;
  /// One of them, by its whole id.
  RecordSummary summary(const std::string& id) const;
  /// All of them.
  std::vector<RecordSummary> list() const;
  /// How many there are.
  std::int64_t count() const;
  /// Where each chain ends, as it was noted when it was written: id, links, head. Oldest first.
  void each_end(const std::function<void(const std::string&, std::int64_t, const std::string&)>& take) const;
  /// The id of the record that was begun last, as its chain tells it; empty: there is none. Looks at few records, however many
  /// there are.
  std::string newest() const;
  /// The record as its chain tells it; Record::chain_fault says when chain and tables do not hold together.
  /// @param with_readings also loads every raw reading, and lets Record::each_sample read the samples as they stand now.
  /// @throws Error(usage) for an unknown id, with near names. A unique beginning of an id will do.
  Record load(const std::string& id, bool with_readings = false) const;
  /// The unfinished records, newest first.
  std::vector<RecordSummary> unfinished() const;
  /// Switching operations of the load in the finished traces of one serial number, but for one record.
  struct Operations {
    std::uint64_t operations = 0;
    std::uint64_t records = 0;
  };
  Operations operations_of(const std::string& serial, const std::string& but_for_record) const;
  /// The ids of the traces of one serial number, in the order in which they were begun.
  std::vector<std::string> traces_of(const std::string& serial) const;
  /// The ids of the lots, in the order in which they were opened.
  std::vector<std::string> lots() const;
  /// Where a serial number stands in lots.
  struct LotPlace {
    std::string lot;  ///< id of its record
    int place = 0;
    std::string record;
  };
  std::vector<LotPlace> lots_with(const std::string& serial) const;
  /// Recomputes the chain from what is stored. Empty when whole, else one sentence on the first break.
  std::string check_chain(const std::string& id) const;
  /// Looks at the file itself: pages, indexes against tables, rows that belong to nothing. One sentence per fault.
  std::vector<std::string> check_file() const;
  /// The links of a record's chain, first to last: RFC 8785 canonical JSON, one per batch. The SHA-256 of
  /// each is the "previous" of the next; that of the last is Record::chain_head.
  std::vector<std::string> chain(const std::string& id) const;
  /// The same one after another: a long record need not fit into memory.
  void each_link(const std::string& id, const std::function<void(const std::string&)>& take) const;

  const std::filesystem::path& path() const;

 private:
  struct Impl;
  std::shared_ptr<Impl> impl_;  ///< shared with the samples of loaded records, which may outlive the Store
};

/// --store, else SWITCHWRIGHT_STORE, else XDG_DATA_HOME/switchwright/records.sqlite.
std::filesystem::path default_store_path();

}  // namespace switchwright
