// Every batch becomes one link: a JSON object that names its record, its number and the SHA-256 of the link
// before
// ("previous", empty for the first), and holds what was measured. The link's canonical bytes (RFC 8785) are
// kept beside the rows, and their plain SHA-256 is what the next link names. The first link holds the header.
#include "switchwright/record/store.hpp"

#include <fmt/chrono.h>
#include <fmt/format.h>

#include <cstdlib>
#include <map>
#include <nlohmann/json.hpp>
#include <random>

#include "switchwright/record/canonical.hpp"
#include "switchwright/record/record_json.hpp"
#include "record/schema.hpp"
#include "switchwright/record/sha256.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/judge/scope_json.hpp"

namespace switchwright {

using nlohmann::json;

namespace {

/// "20260301-091502-7f3a": UTC, then four random digits.
std::string new_id(Wall started) {
  static std::mt19937 random{std::random_device{}()};
  const auto seconds = std::chrono::system_clock::to_time_t(started);
  return fmt::format("{:%Y%m%d-%H%M%S}-{:04x}", fmt::gmtime(seconds), random() & 0xFFFFU);
}

RecordSummary summary_from(const Statement& row) {
  return {row.text(0),        row.text(1), parse_iso8601(row.text(2)),
          row.text(3),        row.text(4), row.text(5),
          row.text(6),        row.text(7), row.text(8),
          row.integer(9) != 0,
          row.is_null(10) ? std::nullopt : std::optional{scope_from(json::parse(row.text(10), nullptr, false))}};
}

/// The first moment of this process that a batch tells.
std::optional<Instant> first_instant(const Batch& batch) {
  if (!batch.readings.empty()) return batch.readings.front().reading.at;
  if (!batch.indications.empty()) return batch.indications.front().indication.from;
  if (batch.leads_before) return batch.leads_before->from;
  if (batch.leads_after) return batch.leads_after->from;
  return std::nullopt;
}

/// Where two versions of a link differ, for a person: "finding 3" or "header".
std::string first_difference(const json& written, const json& found) {
  for (const Table& table : tables()) {
    const json::json_pointer at(table.at);
    const json a = written.contains(at) ? written.at(at) : json();
    const json b = found.contains(at) ? found.at(at) : json();
    if (table.single || !a.is_array() || !b.is_array()) {
      const auto own = [&](const json& object, const Column& column) {
        const json::json_pointer inside(column.at);
        return object.contains(inside) ? object.at(inside) : json();
      };
      for (const Column& column : table.columns)
        if (table.single && own(a, column) != own(b, column)) return table.name + ", column " + column.name;
      if (!table.single && a != b) return table.name + ": rows are missing or were added";
      continue;
    }
    if (a.size() != b.size()) return table.name + ": rows are missing or were added";
    for (std::size_t i = 0; i < a.size(); ++i)
      if (a[i] != b[i]) return fmt::format("{}, row {}", table.name, i + 1);
  }
  return "record";
}

}  // namespace

bool Batch::empty() const {
  return steps.empty() && readings.empty() && indications.empty() && events.empty() &&
         acknowledgements.empty() && stated.empty() && !leads_before && !leads_after && !verdict && !ended && !trace &&
         channels.empty() && samples.empty() && results.empty();
}

struct Store::Impl {
  Database database;
  std::map<std::string, TimeBase> bases;  ///< per record that this process writes

  Impl(const std::filesystem::path& path, int busy_timeout_ms) : database(path, busy_timeout_ms) {
    // Nothing is written before migrate() has seen that the file is ours.
    database.run("PRAGMA foreign_keys=ON; PRAGMA synchronous=FULL");
    migrate(database);
    database.run("PRAGMA journal_mode=WAL");
  }

  /// The link after the last one.
  struct Place {
    std::int64_t sequence = 1;
    std::string previous;
  };
  Place next_place(const std::string& id) const {
    Statement last(database, "SELECT seq, sha256 FROM batch WHERE record_id = ? ORDER BY seq DESC LIMIT 1");
    last.bind(1, id);
    if (!last.step()) return {};
    return {last.integer(0) + 1, last.text(1)};
  }

  /// Inside a transaction.
  void write_link(const std::string& id, json link) {
    const Place place = next_place(id);
    link["record"] = id;
    link["batch"] = place.sequence;
    link["previous"] = place.previous;
    const std::string bytes = canonical_bytes(link);
    Statement insert(
        database, "INSERT INTO batch (record_id, seq, previous, sha256, canonical) VALUES (?, ?, ?, ?, ?)");
    insert.bind(1, id);
    insert.bind(2, place.sequence);
    insert.bind(3, place.previous);
    insert.bind(4, sha256_hex(bytes));
    insert.bind(5, bytes);
    insert.step();
    for (const Table& table : tables()) write_rows(database, table, id, place.sequence, link);
  }

  const TimeBase& base_for(const std::string& id, const Batch& batch) {
    if (const auto known = bases.find(id); known != bases.end()) return known->second;
    const auto instant = first_instant(batch);
    static const TimeBase unused;
    if (!instant) return unused;  // nothing in the batch needs it
    // A record that is resumed goes on after what it holds, even when the wall clock was set back meanwhile.
    const Wall started = parse_iso8601(read_record_row(database, id).at("started").get<std::string>());
    Statement latest(database,
                     "SELECT max(s) FROM (SELECT max(at_s) AS s FROM reading WHERE record_id = ?1 UNION ALL "
                     "SELECT max(to_s) FROM indication WHERE record_id = ?1 UNION ALL "
                     "SELECT max(to_s) FROM leads WHERE record_id = ?1)");
    latest.bind(1, id);
    latest.step();
    const auto since_start = std::chrono::duration_cast<std::chrono::nanoseconds>(instant->wall - started);
    const auto offset = std::max({since_start, from_seconds(latest.real(0)), std::chrono::nanoseconds{0}});
    const Monotonic zero = instant->monotonic - std::chrono::duration_cast<Monotonic::duration>(offset);
    return bases.emplace(id, TimeBase{started, zero}).first->second;
  }

  std::vector<RecordSummary> list() const {
    Statement select(
        database,
        "SELECT r.id, r.kind, r.started, r.part, r.serial, r.profile_id, m.id, r.operator, "
        "coalesce((SELECT v.outcome FROM verdict v WHERE v.record_id = r.id ORDER BY v.seq DESC "
        "LIMIT 1), CASE WHEN EXISTS (SELECT 1 FROM trace_result t WHERE t.record_id = r.id AND t.kind = 'learned') "
        "THEN 'learned' ELSE 'unfinished' END), r.simulated, "
        "(SELECT v.scope FROM verdict v WHERE v.record_id = r.id ORDER BY v.seq DESC LIMIT 1) "
        "FROM record r LEFT JOIN meter m ON m.record_id = r.id ORDER BY r.started DESC, r.id DESC");
    std::vector<RecordSummary> records;
    while (select.step()) records.push_back(summary_from(select));
    return records;
  }

  /// The one record that `text` names, in full or by its beginning.
  std::string find(const std::string& text) const {
    std::vector<std::string> all, beginning;
    Statement select(database, "SELECT id FROM record ORDER BY started DESC, id DESC");
    while (select.step()) {
      all.push_back(select.text(0));
      if (all.back() == text) return text;
      if (!text.empty() && all.back().starts_with(text)) beginning.push_back(all.back());
    }
    if (beginning.size() == 1) return beginning.front();
    const std::string where = database.path().string();
    if (beginning.size() > 1) {
      const auto count = beginning.size();
      if (beginning.size() > 6) beginning.resize(6);
      throw Error(ErrorKind::usage, fmt::format("{} records begin with \"{}\"", count, text), where,
                  "give more of the id; they are " + joined_with_and(beginning) +
                      (count > beginning.size() ? " and others" : ""));
    }
    std::string next = suggestion(text, all);
    if (next.empty())
      next =
          all.empty() ? "the store is empty: qualify a part first" : "list them with: switchwright records";
    throw Error(ErrorKind::usage, "no record is called \"" + text + "\"", where, next);
  }

  json header_of(const std::string& id) const {
    json header = read_record_row(database, id);
    json batch = json::object();
    read_rows(database, tables().front(), id, 1, batch);
    if (batch.contains("header")) header["meter"] = batch["header"]["meter"];
    return header;
  }
};

namespace {

/// What was in the store when the record was loaded: a trace that still grows gives two passes the same samples.
class StoredSamples final : public SampleSource {
 public:
  StoredSamples(const Database& database, std::shared_ptr<const void> owner, std::string record_id, std::int64_t last_batch)
      : database_(database), owner_(std::move(owner)), record_id_(std::move(record_id)), last_batch_(last_batch) {}

  void each(const std::function<void(const SampleRow&)>& take) const override {
    Statement select(database_,
                     "SELECT channel, t_s, state, value, resolution, raw FROM sample WHERE record_id = ? AND seq <= ? "
                     "ORDER BY seq, n");
    select.bind(1, record_id_);
    select.bind(2, last_batch_);
    SampleRow sample;
    while (select.step()) {
      sample.channel = static_cast<int>(select.integer(0));
      sample.t_s = select.real(1);
      sample.state = select.is_null(2)                ? ReadingState::finite
                     : select.text(2) == "over-range" ? ReadingState::over_range
                                                      : ReadingState::not_a_number;
      sample.value = select.real(3);
      sample.resolution = select.real(4);
      sample.raw = select.text(5);
      take(sample);
    }
  }

 private:
  const Database& database_;
  std::shared_ptr<const void> owner_;  ///< of the database
  std::string record_id_;
  std::int64_t last_batch_;
};

}  // namespace

Store::Store(const std::filesystem::path& path, int busy_timeout_ms) {
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

const std::filesystem::path& Store::path() const {
  return impl_->database.path();
}

std::string Store::begin(RecordHeader header) {
  if (header.started == Wall{}) header.started = std::chrono::system_clock::now();
  Transaction transaction(impl_->database);
  Statement taken(impl_->database, "SELECT 1 FROM record WHERE id = ?");
  bool free = false;
  while (!free) {
    header.id = new_id(header.started);
    taken.reset();
    taken.bind(1, header.id);
    free = !taken.step();
  }
  taken.reset();
  const json row = header_json(header);
  write_record_row(impl_->database, row);
  impl_->write_link(header.id, {{"header", row}});
  transaction.commit();
  return header.id;
}

void Store::append(const std::string& record_id, const Batch& batch) {
  if (batch.empty()) return;
  Transaction transaction(impl_->database);
  Statement known(impl_->database, "SELECT 1 FROM record WHERE id = ?");
  known.bind(1, record_id);
  if (!known.step())
    throw Error(ErrorKind::store, "no record is called \"" + record_id + "\", so nothing can be added to it",
                path().string(), "begin a record first");
  known.reset();
  impl_->write_link(record_id, batch_json(batch, impl_->base_for(record_id, batch)));
  transaction.commit();
}

std::vector<RecordSummary> Store::list() const {
  return impl_->list();
}

std::vector<RecordSummary> Store::unfinished() const {
  auto records = impl_->list();
  std::erase_if(records, [](const RecordSummary& record) { return record.outcome != "unfinished"; });
  return records;
}

Record Store::load(const std::string& text, bool with_readings) const {
  const Snapshot snapshot(impl_->database);
  const std::string id = impl_->find(text);
  Record record;
  try {
    record.header = header_from_json(impl_->header_of(id));
    Statement links(impl_->database, "SELECT seq, sha256 FROM batch WHERE record_id = ? ORDER BY seq");
    links.bind(1, id);
    BatchCursor batches(impl_->database, id,
                        with_readings ? std::vector<std::string>{"sample"} : std::vector<std::string>{"reading", "sample"});
    std::int64_t last = 0;
    while (links.step()) {
      last = links.integer(0);
      add_batch_to_record(batches.read(last), record);
      record.chain_head = links.text(1);
      ++record.batches;
    }
    if (with_readings) record.stored_samples = std::make_shared<StoredSamples>(impl_->database, impl_, id, last);
  } catch (const Error& error) {
    if (error.kind() == ErrorKind::store) throw;
    throw Error(ErrorKind::store, "record " + id + " holds " + error.what_happened(), path().string(),
                "the store was changed by hand: look with check_chain");
  } catch (const std::exception& error) {
    throw Error(ErrorKind::store, "record " + id + " cannot be read: " + error.what(), path().string(),
                "the store was changed by another program, or written by a newer switchwright");
  }
  return record;
}

Store::Operations Store::operations_of(const std::string& serial, const std::string& but_for_record) const {
  if (serial.empty()) return {};
  Statement select(impl_->database,
                   "SELECT coalesce(sum(t.operations), 0), count(*) FROM trace_result t JOIN record r ON r.id = "
                   "t.record_id WHERE t.kind = 'verdict' AND r.serial = ? AND r.id <> ?");
  select.bind(1, serial);
  select.bind(2, but_for_record);
  if (!select.step()) return {};
  return {static_cast<std::uint64_t>(select.integer(0)), static_cast<std::uint64_t>(select.integer(1))};
}

std::vector<std::string> Store::chain(const std::string& text) const {
  const std::string id = impl_->find(text);
  Statement select(impl_->database, "SELECT canonical FROM batch WHERE record_id = ? ORDER BY seq");
  select.bind(1, id);
  std::vector<std::string> links;
  while (select.step()) links.push_back(select.text(0));
  return links;
}

std::string Store::check_chain(const std::string& text) const {
  const Snapshot snapshot(impl_->database);
  const std::string id = impl_->find(text);
  Statement links(impl_->database,
                  "SELECT seq, previous, sha256, canonical FROM batch WHERE record_id = ? ORDER BY seq");
  links.bind(1, id);
  BatchCursor batches(impl_->database, id);
  std::int64_t expected = 1;
  std::string previous;
  const auto broken = [&](const std::string& what) {
    return fmt::format("record {}, batch {}: {}", id, expected, what);
  };
  for (; links.step(); ++expected) {
    if (links.integer(0) != expected) return broken("this batch is missing");
    const std::string bytes = links.text(3);
    const std::string digest = sha256_hex(bytes);
    if (digest != links.text(2))
      return broken("the kept bytes no longer have the SHA-256 that was written with them");
    const json written = json::parse(bytes, nullptr, false);
    if (written.is_discarded() || links.text(1) != previous || written.value("previous", "?") != previous)
      return broken("it does not name the SHA-256 of the batch before it");
    json found = batches.read(expected);
    if (expected == 1) {
      const json header = impl_->header_of(id);
      found["header"] = header;
      if (written.contains("header") && written["header"] != header)
        for (const Column& column : record_table().columns) {
          const json::json_pointer at(column.at);
          const json a = written["header"].value(at, json()), b = header.value(at, json());
          if (a != b)
            return broken("what is stored differs from what was written (record, column " + column.name +
                          ")");
        }
    }
    found["record"] = id;
    found["batch"] = expected;
    found["previous"] = previous;
    if (canonical_bytes(found) != bytes)
      return broken("what is stored differs from what was written (" + first_difference(written, found) +
                    ")");
    previous = digest;
  }
  if (expected == 1) return broken("this batch is missing");
  for (const Table& table : tables()) {
    Statement stray(
        impl_->database,
        fmt::format("SELECT 1 FROM {} WHERE record_id = ? AND (seq < 1 OR seq >= ?)", table.name));
    stray.bind(1, id);
    stray.bind(2, expected);
    if (stray.step()) return broken("rows of table " + table.name + " belong to a batch that is missing");
  }
  return {};
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
      throw Error(ErrorKind::store,
                  "neither XDG_DATA_HOME nor HOME is set, so there is no place for the record store", "",
                  "name a store with --store PATH");
    data = std::filesystem::path(home) / ".local" / "share";
  }
  const auto folder = data / "switchwright";
  std::error_code failed;
  std::filesystem::create_directories(folder, failed);
  if (failed)
    throw Error(ErrorKind::store,
                "the folder for the record store cannot be created (" + failed.message() + ")",
                folder.string(), "name a store with --store PATH");
  return folder / "records.sqlite";
}

}  // namespace switchwright
