// What the store tells: lists, records, chains. What is shown comes from the chain; the tables, which anybody can search
// with sqlite3, are held against it.
#include <fmt/format.h>

#include <algorithm>
#include <nlohmann/json.hpp>
#include <set>

#include "record/schema.hpp"
#include "record/store_impl.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/judge/scope_json.hpp"
#include "switchwright/record/sha256.hpp"

namespace switchwright {

using nlohmann::json;

namespace {

/// What was in the store when the record was loaded: a trace that still grows gives two passes the same samples.
class StoredSamples final : public SampleSource {
 public:
  StoredSamples(const Database& database, std::shared_ptr<const void> owner, std::string record_id,
                std::int64_t last_batch)
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

/// "pass", "fail", "undecided", "learned", or what became of a lot, when the link closes a record; else empty.
std::string outcome_in(const json& link) {
  if (const json::json_pointer at("/verdict/outcome"); link.contains(at)) return link.at(at).get<std::string>();
  for (const json& result : link.value("results", json::array()))
    if (result.value("kind", "") == "learned") return "learned";
  if (const auto decisions = link.find("lot_decisions"); decisions != link.end() && !decisions->empty())
    return decisions->back().value("decision", "");
  return {};
}

/// A line of the list. Checked are the header, the joints and the end of the chain, and what closed the record: all that
/// the line shows. Whether every reading still is what it was takes a walk through all of it: check_chain().
class Summary {
 public:
  Summary(const Database& database, const std::string& id) : database_(database), id_(id) {
    summary_.id = id;
    summary_.outcome = "unfinished";
    joints();
    header();
    closing();
  }
  RecordSummary take() { return std::move(summary_); }

 private:
  void broken(const std::string& what) {
    if (summary_.chain_fault.empty()) summary_.chain_fault = fmt::format("record {}: {}", id_, what);
  }

  void joints() {
    Statement links(database_, "SELECT seq, previous, sha256 FROM batch WHERE record_id = ? ORDER BY seq");
    links.bind(1, id_);
    while (links.step()) {
      if (links.integer(0) != end_.links + 1 || links.text(1) != end_.head) broken("a batch is missing or was changed");
      end_ = {links.integer(0), links.text(2)};
    }
    if (noted_end(database_, id_) != end_) broken("the chain does not end where it ended when it was written");
  }

  /// A link as it was written; an empty object when it is not there.
  json link(std::int64_t sequence) {
    Statement select(database_, "SELECT sha256, canonical FROM batch WHERE record_id = ? AND seq = ?");
    select.bind(1, id_);
    select.bind(2, sequence);
    if (!select.step()) {
      broken(fmt::format("batch {} is missing", sequence));
      return json::object();
    }
    const std::string bytes = select.text(1);
    if (sha256_hex(bytes) != select.text(0)) broken(fmt::format("batch {} was changed", sequence));
    json written = json::parse(bytes, nullptr, false);
    return written.is_object() ? written : json::object();
  }

  void header() {
    const json written = link(1);
    const json stored = stored_header(database_, id_);
    const json header = written.is_object() && written.contains("header") ? written["header"] : stored;
    if (header != stored) broken("its header was changed");
    if (!header.is_object()) return broken("its header is missing");
    RecordHeader h;
    try {
      h = header_from_json(header);
    } catch (const std::exception& error) {
      return broken(std::string("its header cannot be read: ") + error.what());
    }
    summary_ = {id_,        h.kind,          h.started,    h.part,      h.serial, h.profile_id,
                h.meter_id, h.operator_name, "unfinished", h.simulated, {},       summary_.chain_fault,
                h.claim};
  }

  /// The outcome in a link, if it has one; its scope with it.
  std::string told_by(std::int64_t sequence) {
    const json written = link(sequence);
    const json::json_pointer scope("/verdict/scope");
    scope_ = written.contains(scope) ? written.at(scope) : json();
    const json::json_pointer explained("/verdict/explanations/0/fault");
    if (written.contains(explained)) summary_.fault = written.at(explained).get<std::string>();
    for (const json& result : written.value("results", json::array()))  // of a trace
      if (result.value("kind", "") == "verdict" && summary_.fault.empty())
        if (const json told = json::parse(result.value("json", ""), nullptr, false); told.is_object())
          for (const json& fault : told.value("faults", json::array()))
            if (summary_.fault.empty()) summary_.fault = fault.value("fault", "");
    return outcome_in(written);
  }

  void closing() {
    Statement rows(
        database_,
        "SELECT max(seq), coalesce((SELECT outcome FROM verdict WHERE record_id = ?1 ORDER BY seq DESC LIMIT 1), "
        "(SELECT decision FROM lot_decision WHERE record_id = ?1 ORDER BY seq DESC, n DESC LIMIT 1)) FROM "
        "(SELECT seq FROM verdict WHERE record_id = ?1 UNION ALL "
        "SELECT seq FROM lot_decision WHERE record_id = ?1 UNION ALL "
        "SELECT seq FROM trace_result WHERE record_id = ?1 AND kind = 'learned')");
    rows.bind(1, id_);
    const bool any = rows.step() && !rows.is_null(0);
    const std::int64_t told = any ? rows.integer(0) : 0;
    const std::string stored = !any ? "" : rows.is_null(1) ? "learned" : rows.text(1);
    std::string written = end_.links > 0 ? told_by(end_.links) : "";
    if (written.empty() && told > 0) written = told_by(told);
    if (written != stored) broken("its verdict was changed");
    if (!written.empty()) summary_.outcome = written;
    if (scope_.is_object()) summary_.scope = scope_from(scope_);
  }

  const Database& database_;
  std::string id_;
  ChainEnd end_;
  json scope_;
  RecordSummary summary_;
};

/// Every record that has left a trace in the store, also one whose own line is gone.
std::vector<std::string> all_ids(const Database& database) {
  Statement select(database, "SELECT id FROM record UNION SELECT record_id FROM chain_end");
  std::vector<std::string> ids;
  while (select.step()) ids.push_back(select.text(0));
  return ids;
}

/// An id begins with the second in which its record began; those of one second are told apart by their chains.
constexpr std::size_t to_the_second = std::string_view("20260301-091502").size();

/// @param select ids, the greatest first
void visit_newest_first(const Database& database, Statement& select,
                        const std::function<bool(const RecordSummary&)>& visit) {
  std::vector<RecordSummary> same_second;
  std::string second;
  const auto all_visited = [&] {
    std::sort(same_second.begin(), same_second.end(), [](const RecordSummary& a, const RecordSummary& b) {
      return std::pair{a.started, a.id} > std::pair{b.started, b.id};
    });
    const bool more = std::all_of(same_second.begin(), same_second.end(), visit);
    same_second.clear();
    return more;
  };
  while (select.step()) {
    const std::string id = select.text(0);
    if (id.substr(0, to_the_second) != second && !all_visited()) return;
    second = id.substr(0, to_the_second);
    same_second.push_back(Summary(database, id).take());
  }
  all_visited();
}

}  // namespace

std::string Store::Impl::find(const std::string& text) const {
  std::vector<std::string> beginning;
  std::vector<std::string> all = all_ids(database);
  std::reverse(all.begin(), all.end());  // an id begins with its time: newest first
  for (const std::string& id : all) {
    if (id == text) return text;
    if (!text.empty() && id.starts_with(text)) beginning.push_back(id);
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
    next = all.empty() ? "the store is empty: qualify a part first" : "list them with: switchwright records";
  throw Error(ErrorKind::usage, "no record is called \"" + text + "\"", where, next);
}

void Store::walk(const std::function<bool(const RecordSummary&)>& visit) const {
  if (impl_->server) return impl_->server->walk("", visit);
  const Snapshot snapshot(impl_->database);
  Statement select(impl_->database, "SELECT id FROM record UNION SELECT record_id FROM chain_end ORDER BY 1 DESC");
  visit_newest_first(impl_->database, select, visit);
}

void Store::walk_serial(const std::string& serial, const std::function<bool(const RecordSummary&)>& visit) const {
  if (impl_->server) return impl_->server->walk(serial, visit);
  const Snapshot snapshot(impl_->database);
  Statement select(impl_->database, "SELECT id FROM record WHERE serial = ? ORDER BY id DESC");
  select.bind(1, serial);
  visit_newest_first(impl_->database, select, visit);
}

RecordSummary Store::summary(const std::string& id) const {
  const Snapshot snapshot(impl_->database);
  return Summary(impl_->database, id).take();
}

std::vector<RecordSummary> Store::list() const {
  std::vector<RecordSummary> records;
  walk([&](const RecordSummary& record) {
    records.push_back(record);
    return true;
  });
  return records;
}

std::int64_t Store::count() const {
  if (impl_->server) return impl_->server->count();
  Statement select(impl_->database,
                   "SELECT count(*) FROM (SELECT id FROM record UNION SELECT record_id FROM chain_end)");
  return select.step() ? select.integer(0) : 0;
}

void Store::each_end(const std::function<void(const std::string&, std::int64_t, const std::string&)>& take) const {
  const Snapshot snapshot(impl_->database);
  Statement select(
      impl_->database,
      "SELECT i.id, coalesce(e.links, 0), coalesce(e.head, '') FROM (SELECT id FROM record UNION SELECT record_id FROM "
      "chain_end) i LEFT JOIN chain_end e ON e.record_id = i.id ORDER BY i.id");
  while (select.step()) take(select.text(0), select.integer(1), select.text(2));
}

std::string Store::newest() const {
  if (impl_->server) return impl_->server->newest();
  const Snapshot snapshot(impl_->database);
  Statement last(
      impl_->database,
      "SELECT max(id) FROM (SELECT max(id) AS id FROM record UNION ALL SELECT max(record_id) FROM chain_end)");
  if (!last.step() || last.is_null(0)) return {};
  Statement same(impl_->database,
                 "SELECT id FROM record WHERE id >= ?1 UNION SELECT record_id FROM chain_end WHERE record_id >= ?1");
  same.bind(1, last.text(0).substr(0, to_the_second));
  std::pair<Wall, std::string> newest;
  while (same.step()) {
    const std::string id = same.text(0);
    newest = std::max(newest, {Summary(impl_->database, id).take().started, id});
  }
  return newest.second;
}

std::vector<RecordSummary> Store::unfinished() const {
  if (impl_->server) return {};  // a bench goes on with its own
  const Snapshot snapshot(impl_->database);
  Statement select(
      impl_->database,
      "SELECT id FROM record r WHERE NOT EXISTS (SELECT 1 FROM verdict WHERE record_id = r.id) AND NOT EXISTS (SELECT 1 "
      "FROM lot_decision WHERE record_id = r.id) AND NOT EXISTS (SELECT 1 FROM trace_result WHERE record_id = r.id AND "
      "kind = 'learned') ORDER BY id DESC");
  std::vector<RecordSummary> records;
  visit_newest_first(impl_->database, select, [&](const RecordSummary& record) {
    if (record.outcome == "unfinished") records.push_back(record);
    return true;
  });
  return records;
}

Record Store::load(const std::string& text, bool with_readings) const {
  impl_->fetch(text);
  const Snapshot snapshot(impl_->database);
  const std::string id = impl_->find(text);
  Record record;
  record.header.id = id;
  std::int64_t link_number = 0;
  std::string unreadable;
  const ChainWalk walk = walk_chain(impl_->database, id, [&](const json& link) {
    ++link_number;
    try {
      if (link_number == 1) record.header = header_from_json(link.at("header"));
      add_batch_json(link, record.header.started, record, {with_readings, false});
    } catch (const Error& error) {
      if (unreadable.empty())
        unreadable = fmt::format("record {}, batch {}: {}", id, link_number, error.what_happened());
    } catch (const std::exception& error) {
      if (unreadable.empty()) unreadable = fmt::format("record {}, batch {}: {}", id, link_number, error.what());
    }
  });
  record.chain_head = walk.head;
  record.batches = walk.links;
  record.chain_fault = !walk.fault.empty() ? walk.fault : unreadable;
  if (with_readings)
    record.stored_samples =
        std::make_shared<StoredSamples>(impl_->database, impl_, id, found_end(impl_->database, id).links);
  return record;
}

Store::Operations Store::operations_of(const std::string& serial, const std::string& but_for_record) const {
  if (serial.empty()) return {};
  impl_->fetch_all("trace", serial);
  // The rows say where to look; what is counted comes from the chain.
  Statement select(
      impl_->database,
      "SELECT b.canonical, b.sha256 FROM batch b JOIN record r ON r.id = b.record_id WHERE r.serial = ? AND "
      "r.id <> ? AND EXISTS (SELECT 1 FROM trace_result t WHERE t.record_id = b.record_id AND t.seq = b.seq "
      "AND t.kind = 'verdict')");
  select.bind(1, serial);
  select.bind(2, but_for_record);
  Operations all;
  while (select.step()) {
    const std::string bytes = select.text(0);
    if (sha256_hex(bytes) != select.text(1)) continue;
    const json link = json::parse(bytes, nullptr, false);
    if (!link.is_object()) continue;
    for (const json& result : link.value("results", json::array())) {
      if (result.value("kind", "") != "verdict") continue;
      all.operations += result.value("operations", std::uint64_t{0});
      ++all.records;
    }
  }
  return all;
}

std::vector<std::string> Store::chain(const std::string& text) const {
  std::vector<std::string> links;
  each_link(text, [&](const std::string& link) { links.push_back(link); });
  return links;
}

void Store::each_link(const std::string& text, const std::function<void(const std::string&)>& take) const {
  impl_->fetch(text);
  const std::string id = impl_->find(text);
  const Snapshot snapshot(impl_->database);
  Statement select(impl_->database, "SELECT canonical FROM batch WHERE record_id = ? ORDER BY seq");
  select.bind(1, id);
  while (select.step()) take(select.text(0));
}

std::string Store::check_chain(const std::string& text) const {
  const Record record = load(text);
  if (!record.chain_fault.empty() || !impl_->server) return record.chain_fault;
  return impl_->server->check(record.header.id);
}

std::vector<std::string> Store::check_file() const {
  const Database& database = impl_->database;
  const Snapshot snapshot(database);
  std::vector<std::string> faults;
  Statement pages(database, "PRAGMA integrity_check(20)");
  while (pages.step())
    if (pages.text(0) != "ok") faults.push_back("the file is damaged: " + pages.text(0));
  Statement orphans(database, "PRAGMA foreign_key_check");
  std::set<std::string> told;
  while (orphans.step())
    if (told.insert(orphans.text(0)).second)
      faults.push_back("rows of table " + orphans.text(0) + " belong to a " + orphans.text(2) + " that is missing");
  // Whatever is not in a store as it is made was put there by somebody else: a trigger can write what nobody measured.
  const auto parts_of = [](const Database& any) {
    std::set<std::string> parts;
    Statement select(any, "SELECT type, name FROM sqlite_schema WHERE name NOT LIKE 'sqlite_%'");
    while (select.step()) parts.insert(select.text(0) + " " + select.text(1));
    return parts;
  };
  const Database fresh(":memory:", 0);
  migrate(fresh);
  const auto here = parts_of(database), meant = parts_of(fresh);
  for (const std::string& part : meant)
    if (!here.contains(part)) faults.push_back("the " + part + " is missing");
  for (const std::string& part : here)
    if (!meant.contains(part)) faults.push_back("the " + part + " was added by another program");
  return faults;
}

}  // namespace switchwright
