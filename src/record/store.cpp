// Every batch becomes one link: a JSON object that names its record, its number and the SHA-256 of the link before
// ("previous", empty for the first), and holds what was measured. The link's canonical bytes (RFC 8785) are kept beside
// the rows, and their plain SHA-256 is what the next link names. The first link holds the header. Where the chain ends is
// noted with every batch, so that a chain that lost its tail does not pass for a shorter one.
#include "switchwright/record/store.hpp"

#include <fmt/chrono.h>
#include <fmt/format.h>
#include <sqlite3.h>

#include <algorithm>
#include <chrono>
#include <cstdlib>
#include <nlohmann/json.hpp>
#include <random>
#include <thread>

#include "record/schema.hpp"
#include "record/store_impl.hpp"
#include "switchwright/record/canonical.hpp"
#include "switchwright/record/sha256.hpp"

namespace switchwright {

using nlohmann::json;

namespace {

/// "20260301-091502-7f3a": UTC, then four random digits.
std::string new_id(Wall started) {
  static std::mt19937 random{std::random_device{}()};
  const auto seconds = std::chrono::system_clock::to_time_t(started);
  return fmt::format("{:%Y%m%d-%H%M%S}-{:04x}", fmt::gmtime(seconds), random() & 0xFFFFU);
}

/// The first moment of this process that a batch tells.
std::optional<Instant> first_instant(const Batch& batch) {
  if (!batch.readings.empty()) return batch.readings.front().reading.at;
  if (!batch.indications.empty()) return batch.indications.front().indication.from;
  if (batch.leads_before) return batch.leads_before->from;
  if (batch.leads_after) return batch.leads_after->from;
  return std::nullopt;
}

json link_of(const std::string& id, const ChainEnd& after, json link) {
  link["record"] = id;
  link["batch"] = after.links + 1;
  link["previous"] = after.head;
  return link;
}

/// The change to a write-ahead log needs the store alone for a moment, and SQLite does not wait for that by itself: of two benches
/// that make a store at once one would be sent away. Where a file system cannot share memory SQLite keeps a rollback journal, which
/// is as durable.
void keep_write_ahead_log(const Database& database, int busy_timeout_ms) {
  const auto until = std::chrono::steady_clock::now() + std::chrono::milliseconds(busy_timeout_ms);
  for (;;) try {
      return database.set("journal_mode", "WAL", {"wal", "delete", "truncate", "persist"});
    } catch (const Error&) {
      const bool busy = (sqlite3_errcode(database.handle()) & 0xFF) == SQLITE_BUSY;
      if (!busy || std::chrono::steady_clock::now() >= until) throw;
      std::this_thread::sleep_for(std::chrono::milliseconds(5));
    }
}

}  // namespace

Database opened(const std::filesystem::path& path, int busy_timeout_ms) {
  Database database(path, busy_timeout_ms);
  // Nothing is written before migrate() has seen that the file is ours.
  database.set("foreign_keys", "ON", {"1"});
  database.set("synchronous", "FULL", {"2"});
  migrate(database);
  keep_write_ahead_log(database, busy_timeout_ms);
  return database;
}

Store::Impl::Impl(const std::filesystem::path& path, int busy_timeout_ms)
    : named(path), database(opened(path, busy_timeout_ms)), watch(database) {}

bool Store::Impl::knows(const std::string& id) const {
  Statement known(database, "SELECT 1 FROM record WHERE id = ?");
  known.bind(1, id);
  return known.step();
}

Writing& Store::Impl::take_up(const std::string& id) {
  require_writable_here();
  if (const auto ours = writing.find(id); ours != writing.end()) return ours->second;
  if (!knows(id))
    throw Error(ErrorKind::store, "no record is called \"" + id + "\", so nothing can be added to it",
                database.path().string(), "begin a record first");
  Writing record{RecordLease(database.path(), id), {}, {}, {}};
  const Snapshot snapshot(database);  // after the lease: nobody else writes the record from here on
  const ChainWalk walk = walk_chain(database, id, [](const json&) {});
  if (!walk.fault.empty())
    throw Error(ErrorKind::store, "the chain does not hold, so nothing can be added to it: " + walk.fault,
                database.path().string(), "look at it with: switchwright report " + id + ", and begin a new record");
  record.end = {walk.links, walk.head};
  Statement links(database, "SELECT canonical FROM batch WHERE record_id = ? ORDER BY seq");
  links.bind(1, id);
  while (links.step()) record.journal.add(links.text(0));
  record.times = times_of(id);
  return writing.emplace(id, std::move(record)).first->second;
}

RecordTimes Store::Impl::times_of(const std::string& id) const {
  Statement latest(database,
                   "SELECT max(s) FROM (SELECT max(at_s) AS s FROM reading WHERE record_id = ?1 UNION ALL "
                   "SELECT max(to_s) FROM indication WHERE record_id = ?1 UNION ALL "
                   "SELECT max(to_s) FROM leads WHERE record_id = ?1)");
  latest.bind(1, id);
  latest.step();
  return {parse_iso8601(read_record_row(database, id).at("started").get<std::string>()), latest.real(0), {}};
}

const TimeBase& RecordTimes::base_for(const Batch& batch) {
  if (base) return *base;
  const auto instant = first_instant(batch);
  static const TimeBase unused;
  if (!instant) return unused;  // nothing in the batch needs it
  // A record that is resumed goes on after what it holds, even when the wall clock was set back meanwhile.
  const auto since_start = std::chrono::duration_cast<std::chrono::nanoseconds>(instant->wall - started);
  const auto offset = std::max({since_start, from_seconds(latest_s), std::chrono::nanoseconds{0}});
  base = TimeBase{started, instant->monotonic - std::chrono::duration_cast<Monotonic::duration>(offset)};
  return *base;
}

void Store::Impl::write_link(const std::string& id, const ChainEnd& end, const std::string& bytes, const json& link) {
  Statement insert(database, "INSERT INTO batch (record_id, seq, previous, sha256, canonical) VALUES (?, ?, ?, ?, ?)");
  insert.bind(1, id);
  insert.bind(2, end.links);
  insert.bind(3, link.at("previous").get_ref<const std::string&>());
  insert.bind(4, end.head);
  insert.bind(5, bytes);
  insert.step();
  for (const Table& table : tables()) write_rows(database, table, id, end.links, link);
  note_end(database, id, end);
}

void Store::Impl::require_ours(const std::string& id, const Writing& record) const {
  if (found_end(database, id) == record.end && noted_end(database, id) == record.end && knows(id)) return;
  throw StoreLost("somebody else wrote in record " + id + " while it was being written", database.path().string(),
                  "no two benches may write one record; what was measured is put aside");
}

void Store::Impl::lose(const StoreLost& why) {
  lost = why;
  // What is still in the log must not be written over a file that is no longer ours.
  sqlite3_db_config(database.handle(), SQLITE_DBCONFIG_NO_CKPT_ON_CLOSE, 1, nullptr);
}

Store::Store(const std::filesystem::path& path, int busy_timeout_ms) {
  if (names_server(path.string())) {
    impl_ = std::make_shared<Impl>(path.string());
    return;
  }
  std::error_code ignored;
  const auto folder = path.parent_path();
  if (!folder.empty() && !std::filesystem::is_directory(folder, ignored))
    throw Error(ErrorKind::store, "the folder " + folder.string() + " does not exist", path.string(),
                "create it (mkdir -p), or name another store with --store PATH");
  if (std::filesystem::is_directory(path, ignored))
    throw Error(ErrorKind::store, "this is a folder, not a record store", path.string(),
                "name a file with --store PATH");
  impl_ = std::make_shared<Impl>(path, busy_timeout_ms);
}

Store::~Store() = default;

const std::filesystem::path& Store::path() const { return impl_->named; }

std::string Store::begin(RecordHeader header) {
  impl_->require_writable_here();
  if (header.started == Wall{}) header.started = std::chrono::system_clock::now();
  Transaction transaction(impl_->database);
  do header.id = new_id(header.started);
  while (impl_->knows(header.id) || is_taken(header.id));
  Writing record{RecordLease(path(), header.id), {}, {}, {header.started, 0.0, {}}};
  const json row = header_json(header);
  const json link = link_of(header.id, record.end, {{"header", row}});
  const std::string bytes = canonical_bytes(link);
  record.end = {1, sha256_hex(bytes)};
  write_record_row(impl_->database, row);
  impl_->write_link(header.id, record.end, bytes, link);
  transaction.commit();
  record.journal.add(bytes);
  impl_->writing.emplace(header.id, std::move(record));
  return header.id;
}

void Store::take_up(const std::string& record_id) { impl_->take_up(record_id); }

bool Store::is_taken(const std::string& record_id) const {
  return !impl_->writing.contains(record_id) && RecordLease::is_taken(path(), record_id);
}

void Store::append(const std::string& record_id, const Batch& batch) {
  if (batch.empty()) return;
  if (impl_->lost) throw StoreLost(*impl_->lost);
  Writing& record = impl_->take_up(record_id);
  try {
    impl_->watch.look();
    Transaction transaction(impl_->database);
    impl_->require_ours(record_id, record);
    const json link = link_of(record_id, record.end, batch_json(batch, record.times.base_for(batch)));
    const std::string bytes = canonical_bytes(link);
    const ChainEnd end{record.end.links + 1, sha256_hex(bytes)};
    impl_->write_link(record_id, end, bytes, link);
    transaction.commit();
    impl_->watch.look();  // before it is called kept
    record.end = end;
    record.journal.add(bytes);
  } catch (const StoreLost& why) {
    impl_->lose(why);
    throw;
  }
}

void Store::confirm(const std::string& record_id) {
  if (impl_->lost) throw StoreLost(*impl_->lost);
  const Writing& record = impl_->take_up(record_id);
  try {
    impl_->watch.look();
    sqlite3_db_release_memory(impl_->database.handle());  // what is on the disk counts, not what is remembered
    const Snapshot snapshot(impl_->database);
    impl_->require_ours(record_id, record);
    Statement count(impl_->database, "SELECT count(*) FROM batch WHERE record_id = ?");
    count.bind(1, record_id);
    if (!count.step() || count.integer(0) != record.end.links)
      throw StoreLost("parts of record " + record_id + " are gone from the store", path().string(),
                      "find out who did it; what was measured is put aside");
  } catch (const StoreLost& why) {
    impl_->lose(why);
    throw;
  }
}

bool Store::links_to_rescue(const std::string& record_id, const Batch& unkept, bool whole,
                            const std::function<void(std::string_view)>& take) const {
  const auto found = impl_->writing.find(record_id);
  if (found == impl_->writing.end()) return false;
  Writing& record = found->second;
  const bool complete = !whole || record.journal.each(take);
  if (!unkept.empty())
    take(canonical_bytes(link_of(record_id, record.end, batch_json(unkept, record.times.base_for(unkept)))));
  return complete;
}

Store::Restored Store::restore(const std::vector<std::string>& links) {
  impl_->require_writable_here();
  Restored restored;
  if (links.empty()) return restored;
  const std::string id = json::parse(links.front()).at("record").get<std::string>();
  const auto refuse = [&](const std::string& what, const std::string& next) {
    return Error(ErrorKind::store, what, path().string(), next);
  };
  std::optional<RecordLease> lease;
  if (impl_->knows(id))
    impl_->take_up(id);
  else
    lease.emplace(path(), id);
  Transaction transaction(impl_->database);
  ChainEnd end = found_end(impl_->database, id);
  for (const std::string& bytes : links) {
    const json link = json::parse(bytes);
    const ChainEnd place{link.at("batch").get<std::int64_t>(), sha256_hex(bytes)};
    if (canonical_bytes(link) != bytes || link.at("record") != id)
      throw refuse(fmt::format("batch {} of the rescue file is not as it was written", place.links),
                   "take the file as the tool made it");
    if (place.links <= end.links) {
      Statement kept(impl_->database, "SELECT sha256 FROM batch WHERE record_id = ? AND seq = ?");
      kept.bind(1, id);
      kept.bind(2, place.links);
      if (!kept.step() || kept.text(0) != place.head)
        throw refuse(fmt::format("record {} in this store went another way at batch {}", id, place.links),
                     "bring the file into another store with --store PATH, and compare the two");
      ++restored.already_there;
      continue;
    }
    if (place.links != end.links + 1 || link.at("previous") != end.head)
      throw refuse(fmt::format("the rescue file goes on at batch {} of record {}, and this store has {}", place.links,
                               id, end.links),
                   "bring it into the store that holds the rest of the record: --store PATH");
    if (place.links == 1) write_record_row(impl_->database, link.at("header"));
    impl_->write_link(id, place, bytes, link);
    end = place;
    ++restored.added;
  }
  transaction.commit();
  if (const auto ours = impl_->writing.find(id); ours != impl_->writing.end()) impl_->writing.erase(ours);
  return restored;
}

std::filesystem::path default_store_path() {
  const auto variable = [](const char* name) {
    const char* value = std::getenv(name);
    return std::string(value == nullptr ? "" : value);
  };
  if (const auto store = variable("SWITCHWRIGHT_STORE"); !store.empty()) return store;
  // XDG Base Directory Specification: a relative path is to be ignored.
  std::filesystem::path data = variable("XDG_DATA_HOME");
  if (!data.is_absolute()) {
    const auto home = variable("HOME");
    if (home.empty())
      throw Error(ErrorKind::store, "neither XDG_DATA_HOME nor HOME is set, so there is no place for the record store",
                  "", "name a store with --store PATH");
    data = std::filesystem::path(home) / ".local" / "share";
  }
  const auto folder = data / "switchwright";
  std::error_code failed;
  std::filesystem::create_directories(folder, failed);
  if (failed)
    throw Error(ErrorKind::store, "the folder for the record store cannot be created (" + failed.message() + ")",
                folder.string(), "name a store with --store PATH");
  return folder / "records.sqlite";
}

}  // namespace switchwright
