// The record store: SQLite, written as things happen. One Batch is one transaction and one link of the hash
// chain; after append() returns, a power cut loses nothing of it.
#pragma once

#include <filesystem>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "switchwright/record/record.hpp"

namespace switchwright {

/// What is written together.
struct Batch {
  std::vector<StepRow> steps;
  std::vector<ReadingRow> readings;
  std::vector<IndicationRow> indications;
  std::vector<EventRow> events;
  std::vector<Acknowledgement> acknowledgements;
  std::vector<StatedResult> stated;
  std::optional<Indication> leads_before;
  std::optional<Indication> leads_after;
  std::optional<Verdict> verdict;  ///< closes the record
  std::optional<Wall> ended;
  std::optional<TraceSetup> trace;
  std::vector<TraceChannel> channels;
  std::vector<SampleRow> samples;
  std::vector<TraceResult> results;
  bool empty() const;
};

/// Thread rule: one owner, one thread. Other processes may read the same file meanwhile.
class Store {
 public:
  /// Opens or creates the store, migrating an older schema forward.
  /// @throws Error(store): not a store, newer schema, not writable, disk full.
  /// @param busy_timeout_ms how long to wait for another process to finish writing.
  explicit Store(const std::filesystem::path& path, int busy_timeout_ms = 5000);
  ~Store();
  Store(const Store&) = delete;
  Store& operator=(const Store&) = delete;

  /// Writes the header; returns the id it assigned.
  std::string begin(RecordHeader header);
  /// @throws Error(store) when it could not be made durable; the batch may be appended again.
  void append(const std::string& record_id, const Batch& batch);

  std::vector<RecordSummary> list() const;
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
  /// Recomputes the chain from what is stored. Empty when whole, else one sentence on the first break.
  std::string check_chain(const std::string& id) const;
  /// The links of a record's chain, first to last: RFC 8785 canonical JSON, one per batch. The SHA-256 of
  /// each is the "previous" of the next; that of the last is Record::chain_head.
  std::vector<std::string> chain(const std::string& id) const;

  const std::filesystem::path& path() const;

 private:
  struct Impl;
  std::shared_ptr<Impl> impl_;  ///< shared with the samples of loaded records, which may outlive the Store
};

/// --store, else SWITCHWRIGHT_STORE, else XDG_DATA_HOME/switchwright/records.sqlite.
std::filesystem::path default_store_path();

}  // namespace switchwright
