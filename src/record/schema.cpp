#include "record/schema.hpp"

#include <fmt/format.h>

#include <array>
#include <nlohmann/json.hpp>
#include <sstream>

#include "switchwright/core/error.hpp"

namespace switchwright {

using nlohmann::json;

namespace {

constexpr int application_id = 0x53775772;  // "SwWr": tells a record store from any other SQLite file

// Migrations in order; entry i takes the schema from version i to i + 1. Never edit an entry that was
// released.
constexpr std::array migrations{
    // 1: records, what happened in them, what was judged, and the chain over it.
    R"sql(
CREATE TABLE record (
  id TEXT PRIMARY KEY, kind TEXT, started TEXT NOT NULL, tool_version TEXT, operator TEXT, part TEXT, serial TEXT,
  profile_id TEXT, profile_title TEXT, profile_values TEXT, profile_text TEXT,
  hands TEXT, rule TEXT, k REAL, simulated INTEGER NOT NULL) STRICT;
CREATE TABLE batch (
  record_id TEXT NOT NULL REFERENCES record(id), seq INTEGER NOT NULL, previous TEXT NOT NULL,
  sha256 TEXT NOT NULL, canonical TEXT NOT NULL, PRIMARY KEY (record_id, seq)) STRICT;
CREATE TABLE meter (
  record_id TEXT NOT NULL, seq INTEGER NOT NULL, n INTEGER NOT NULL,
  id TEXT, title TEXT, text TEXT, serial TEXT, calibrated TEXT, port TEXT,
  PRIMARY KEY (record_id, seq, n), FOREIGN KEY (record_id, seq) REFERENCES batch) STRICT;
CREATE TABLE step (
  record_id TEXT NOT NULL, seq INTEGER NOT NULL, n INTEGER NOT NULL,
  step INTEGER NOT NULL, kind TEXT, pair_first TEXT, pair_second TEXT, position TEXT, instruction TEXT, at TEXT,
  PRIMARY KEY (record_id, seq, n), FOREIGN KEY (record_id, seq) REFERENCES batch) STRICT;
CREATE TABLE reading (
  record_id TEXT NOT NULL, seq INTEGER NOT NULL, n INTEGER NOT NULL,
  step INTEGER NOT NULL, quantity TEXT, unit TEXT, state TEXT, value REAL, resolution REAL, beyond REAL, flags TEXT,
  at TEXT, at_s REAL, raw BLOB,
  PRIMARY KEY (record_id, seq, n), FOREIGN KEY (record_id, seq) REFERENCES batch) STRICT;
CREATE TABLE indication (
  record_id TEXT NOT NULL, seq INTEGER NOT NULL, n INTEGER NOT NULL,
  step INTEGER NOT NULL, attempt INTEGER, contact_stated INTEGER, quantity TEXT, unit TEXT, state TEXT, value REAL,
  resolution REAL, beyond REAL, flags TEXT, readings INTEGER, from_at TEXT, to_at TEXT, from_s REAL, to_s REAL,
  PRIMARY KEY (record_id, seq, n), FOREIGN KEY (record_id, seq) REFERENCES batch) STRICT;
CREATE TABLE leads (
  record_id TEXT NOT NULL, seq INTEGER NOT NULL, n INTEGER NOT NULL,
  when_taken TEXT NOT NULL, quantity TEXT, unit TEXT, state TEXT, value REAL,
  resolution REAL, beyond REAL, flags TEXT, readings INTEGER, from_at TEXT, to_at TEXT, from_s REAL, to_s REAL,
  PRIMARY KEY (record_id, seq, n), FOREIGN KEY (record_id, seq) REFERENCES batch) STRICT;
CREATE TABLE event (
  record_id TEXT NOT NULL, seq INTEGER NOT NULL, n INTEGER NOT NULL, at TEXT, kind TEXT, text TEXT,
  PRIMARY KEY (record_id, seq, n), FOREIGN KEY (record_id, seq) REFERENCES batch) STRICT;
CREATE TABLE acknowledgement (
  record_id TEXT NOT NULL, seq INTEGER NOT NULL, n INTEGER NOT NULL, at TEXT, what TEXT, who TEXT, how TEXT,
  text TEXT,
  PRIMARY KEY (record_id, seq, n), FOREIGN KEY (record_id, seq) REFERENCES batch) STRICT;
CREATE TABLE verdict (
  record_id TEXT NOT NULL, seq INTEGER NOT NULL, n INTEGER NOT NULL, outcome TEXT NOT NULL, headline TEXT,
  PRIMARY KEY (record_id, seq, n), FOREIGN KEY (record_id, seq) REFERENCES batch) STRICT;
CREATE TABLE finding (
  record_id TEXT NOT NULL, seq INTEGER NOT NULL, n INTEGER NOT NULL,
  position TEXT, pair_first TEXT, pair_second TEXT, expected_state TEXT, min_ohm REAL, max_ohm REAL,
  nominal_ohm REAL, sound_max_ohm REAL, can_make_live INTEGER, reason TEXT,
  quantity TEXT, unit TEXT, state TEXT, value REAL, resolution REAL, beyond REAL, flags TEXT, readings INTEGER,
  from_at TEXT, to_at TEXT, corrected REAL, expanded_uncertainty REAL, outcome TEXT NOT NULL, kind TEXT,
  severity TEXT, sound TEXT, witness TEXT, p_conform REAL, sentence TEXT,
  PRIMARY KEY (record_id, seq, n), FOREIGN KEY (record_id, seq) REFERENCES batch) STRICT;
CREATE TABLE inspection (
  record_id TEXT NOT NULL, seq INTEGER NOT NULL, n INTEGER NOT NULL, ask TEXT, severity TEXT, answer INTEGER,
  note TEXT,
  PRIMARY KEY (record_id, seq, n), FOREIGN KEY (record_id, seq) REFERENCES batch) STRICT;
CREATE TABLE not_measured (
  record_id TEXT NOT NULL, seq INTEGER NOT NULL, n INTEGER NOT NULL,
  position TEXT, pair_first TEXT, pair_second TEXT, expected_state TEXT, min_ohm REAL, max_ohm REAL,
  nominal_ohm REAL, sound_max_ohm REAL, can_make_live INTEGER, reason TEXT,
  PRIMARY KEY (record_id, seq, n), FOREIGN KEY (record_id, seq) REFERENCES batch) STRICT;
CREATE TABLE remark (
  record_id TEXT NOT NULL, seq INTEGER NOT NULL, n INTEGER NOT NULL, text TEXT,
  PRIMARY KEY (record_id, seq, n), FOREIGN KEY (record_id, seq) REFERENCES batch) STRICT;
CREATE TABLE ended (
  record_id TEXT NOT NULL, seq INTEGER NOT NULL, n INTEGER NOT NULL, at TEXT NOT NULL,
  PRIMARY KEY (record_id, seq, n), FOREIGN KEY (record_id, seq) REFERENCES batch) STRICT;
)sql",
    // 2: the list of records by time, and a view for people who look with sqlite3 alone.
    R"sql(
CREATE INDEX record_by_start ON record(started);
CREATE VIEW deviation AS
  SELECT f.record_id, r.part, r.serial, f.position, f.pair_first || '-' || f.pair_second AS pair, f.kind, f.severity,
         f.corrected, f.expanded_uncertainty, f.min_ohm, f.max_ohm, f.sentence
  FROM finding f JOIN record r ON r.id = f.record_id
  WHERE f.kind IS NOT NULL
    AND f.seq = (SELECT max(v.seq) FROM verdict v WHERE v.record_id = f.record_id);
)sql",
    // 3: what would explain the readings, and plans that are shorter than the full one.
    R"sql(
ALTER TABLE record ADD COLUMN plan TEXT;
ALTER TABLE verdict ADD COLUMN plan TEXT;
ALTER TABLE verdict ADD COLUMN diagnosis TEXT;
ALTER TABLE verdict ADD COLUMN next_position TEXT;
ALTER TABLE verdict ADD COLUMN next_first TEXT;
ALTER TABLE verdict ADD COLUMN next_second TEXT;
ALTER TABLE verdict ADD COLUMN next_bits REAL;
CREATE TABLE explanation (
  record_id TEXT NOT NULL, seq INTEGER NOT NULL, n INTEGER NOT NULL,
  fault TEXT, words TEXT, probability REAL, same_readings_as TEXT, hides TEXT, consequences TEXT,
  PRIMARY KEY (record_id, seq, n), FOREIGN KEY (record_id, seq) REFERENCES batch) STRICT;
CREATE TABLE left_out (
  record_id TEXT NOT NULL, seq INTEGER NOT NULL, n INTEGER NOT NULL,
  position TEXT, pair_first TEXT, pair_second TEXT, expected_state TEXT, min_ohm REAL, max_ohm REAL,
  nominal_ohm REAL, sound_max_ohm REAL, can_make_live INTEGER, reason TEXT,
  PRIMARY KEY (record_id, seq, n), FOREIGN KEY (record_id, seq) REFERENCES batch) STRICT;
)sql",
    // 4: traces: the conditions, a row per meter, the samples, and what they amounted to.
    R"sql(
CREATE TABLE trace (
  record_id TEXT NOT NULL, seq INTEGER NOT NULL, n INTEGER NOT NULL,
  position TEXT, setting TEXT, supply_v REAL, load TEXT, load_ohm REAL, ambient_c REAL,
  PRIMARY KEY (record_id, seq, n), FOREIGN KEY (record_id, seq) REFERENCES batch) STRICT;
CREATE TABLE trace_channel (
  record_id TEXT NOT NULL, seq INTEGER NOT NULL, n INTEGER NOT NULL,
  channel INTEGER NOT NULL, name TEXT, quantity TEXT, meter_id TEXT, meter_title TEXT, meter_text TEXT, port TEXT,
  PRIMARY KEY (record_id, seq, n), FOREIGN KEY (record_id, seq) REFERENCES batch) STRICT;
CREATE TABLE sample (
  record_id TEXT NOT NULL, seq INTEGER NOT NULL, n INTEGER NOT NULL,
  channel INTEGER NOT NULL, t_s REAL NOT NULL, state TEXT, value REAL, resolution REAL,
  PRIMARY KEY (record_id, seq, n), FOREIGN KEY (record_id, seq) REFERENCES batch) STRICT;
CREATE TABLE trace_result (
  record_id TEXT NOT NULL, seq INTEGER NOT NULL, n INTEGER NOT NULL,
  kind TEXT NOT NULL, channel TEXT, operations INTEGER, json TEXT,
  PRIMARY KEY (record_id, seq, n), FOREIGN KEY (record_id, seq) REFERENCES batch) STRICT;
)sql",
    // 5: voltages under power, and the supply they were read with.
    R"sql(
CREATE TABLE voltage (
  record_id TEXT NOT NULL, seq INTEGER NOT NULL, n INTEGER NOT NULL,
  position TEXT, pair_first TEXT, pair_second TEXT, expected_state TEXT, min_v REAL, max_v REAL, bands TEXT,
  nominal_v REAL, stray_max_v REAL, live_is_critical INTEGER, reason TEXT,
  quantity TEXT, unit TEXT, state TEXT, value REAL, resolution REAL, beyond REAL, flags TEXT, readings INTEGER,
  from_at TEXT, to_at TEXT, volts REAL, expanded_uncertainty REAL, outcome TEXT NOT NULL, kind TEXT,
  severity TEXT, sentence TEXT,
  PRIMARY KEY (record_id, seq, n), FOREIGN KEY (record_id, seq) REFERENCES batch) STRICT;
CREATE TABLE supply (
  record_id TEXT NOT NULL, seq INTEGER NOT NULL, n INTEGER NOT NULL,
  position TEXT, pair_first TEXT, pair_second TEXT, expected_state TEXT, min_v REAL, max_v REAL, bands TEXT,
  nominal_v REAL, stray_max_v REAL, live_is_critical INTEGER, reason TEXT,
  quantity TEXT, unit TEXT, state TEXT, value REAL, resolution REAL, beyond REAL, flags TEXT, readings INTEGER,
  from_at TEXT, to_at TEXT, volts REAL, expanded_uncertainty REAL, outcome TEXT NOT NULL, kind TEXT,
  severity TEXT, sentence TEXT,
  PRIMARY KEY (record_id, seq, n), FOREIGN KEY (record_id, seq) REFERENCES batch) STRICT;
CREATE TABLE voltage_not_measured (
  record_id TEXT NOT NULL, seq INTEGER NOT NULL, n INTEGER NOT NULL,
  position TEXT, pair_first TEXT, pair_second TEXT, expected_state TEXT, min_v REAL, max_v REAL, bands TEXT,
  nominal_v REAL, stray_max_v REAL, live_is_critical INTEGER, reason TEXT,
  PRIMARY KEY (record_id, seq, n), FOREIGN KEY (record_id, seq) REFERENCES batch) STRICT;
)sql",
};

const std::vector<Column> expectation_columns(const std::string& at) {
  return {{"position", at + "/position"},
          {"pair_first", at + "/pair/0"},
          {"pair_second", at + "/pair/1"},
          {"expected_state", at + "/state"},
          {"min_ohm", at + "/min_ohm", Kind::real},
          {"max_ohm", at + "/max_ohm", Kind::real},
          {"nominal_ohm", at + "/nominal_ohm", Kind::real},
          {"sound_max_ohm", at + "/sound_max_ohm", Kind::real},
          {"can_make_live", at + "/can_make_live", Kind::boolean},
          {"reason", at + "/reason"}};
}

std::vector<Column> voltage_expectation_columns(const std::string& at) {
  return {{"position", at + "/position"},
          {"pair_first", at + "/pair/0"},
          {"pair_second", at + "/pair/1"},
          {"expected_state", at + "/state"},
          {"min_v", at + "/min_v", Kind::real},
          {"max_v", at + "/max_v", Kind::real},
          {"bands", at + "/bands", Kind::list},
          {"nominal_v", at + "/nominal_v", Kind::real},
          {"stray_max_v", at + "/stray_max_v", Kind::real},
          {"live_is_critical", at + "/live_is_critical", Kind::boolean},
          {"reason", at + "/reason"}};
}

std::vector<Column> value_columns(const std::string& at) {
  return {{"quantity", at + "/quantity"},
          {"unit", at + "/unit"},
          {"state", at + "/state"},
          {"value", at + "/value", Kind::real},
          {"resolution", at + "/resolution", Kind::real},
          {"beyond", at + "/beyond", Kind::real},
          {"flags", at + "/flags", Kind::words}};
}

std::vector<Column> indication_columns(const std::string& at, bool with_seconds) {
  auto columns = value_columns(at);
  columns.push_back({"readings", at + "/readings", Kind::integer});
  columns.push_back({"from_at", at + "/from"});
  columns.push_back({"to_at", at + "/to"});
  if (with_seconds) {
    columns.push_back({"from_s", at + "/from_s", Kind::real});
    columns.push_back({"to_s", at + "/to_s", Kind::real});
  }
  return columns;
}

std::vector<Column> joined(std::vector<Column> a, const std::vector<Column>& b,
                           const std::vector<Column>& c = {}) {
  a.insert(a.end(), b.begin(), b.end());
  a.insert(a.end(), c.begin(), c.end());
  return a;
}

std::vector<Column> voltage_columns() {
  return joined(voltage_expectation_columns("/expected"), indication_columns("/indication", false),
                {{"volts", "/volts", Kind::real},
                 {"expanded_uncertainty", "/U", Kind::real},
                 {"outcome", "/outcome"},
                 {"kind", "/kind"},
                 {"severity", "/severity"},
                 {"sentence", "/sentence"}});
}

void bind_value(Statement& statement, int parameter, const Column& column, const json& value) {
  switch (column.kind) {
    case Kind::text:
      return statement.bind(parameter, value.get_ref<const std::string&>());
    case Kind::integer:
      return statement.bind(parameter, value.get<std::int64_t>());
    case Kind::real:
      return statement.bind(parameter, value.get<double>());
    case Kind::boolean:
      return statement.bind(parameter, std::int64_t{value.get<bool>()});
    case Kind::words: {
      std::string words;
      for (const auto& word : value) {
        if (!words.empty()) words += ' ';
        words += word.get_ref<const std::string&>();
      }
      return statement.bind(parameter, words);
    }
    case Kind::bytes: {
      const auto& hex = value.get_ref<const std::string&>();
      std::string bytes;
      for (std::size_t i = 0; i + 1 < hex.size(); i += 2)
        bytes += static_cast<char>(std::stoi(hex.substr(i, 2), nullptr, 16));
      return statement.bind_bytes(parameter, bytes);
    }
    case Kind::list:
      return statement.bind(parameter, value.dump());
  }
}

json column_value(const Statement& statement, int index, const Column& column) {
  switch (column.kind) {
    case Kind::text:
      return statement.text(index);
    case Kind::integer:
      return statement.integer(index);
    case Kind::real:
      return statement.real(index);
    case Kind::boolean:
      return statement.integer(index) != 0;
    case Kind::words: {
      json words = json::array();
      std::istringstream in(statement.text(index));
      for (std::string word; in >> word;) words.push_back(word);
      return words;
    }
    case Kind::bytes: {
      std::string hex;
      for (const char c : statement.text(index)) hex += fmt::format("{:02x}", static_cast<unsigned char>(c));
      return hex;
    }
    case Kind::list:
      return json::parse(statement.text(index));
  }
  return nullptr;
}

std::string column_names(const Table& table) {
  std::string names;
  for (const Column& column : table.columns) {
    names += ", ";
    names += column.name;
  }
  return names;
}

void bind_row(Statement& statement, int first, const Table& table, const json& row) {
  for (const Column& column : table.columns) {
    const json::json_pointer at(column.at);
    if (row.contains(at)) bind_value(statement, first, column, row.at(at));
    ++first;
  }
}

json row_from(const Statement& statement, int first, const Table& table) {
  json row;
  for (const Column& column : table.columns) {
    if (!statement.is_null(first))
      row[json::json_pointer(column.at)] = column_value(statement, first, column);
    ++first;
  }
  return row;
}

}  // namespace

const std::vector<Table>& tables() {
  static const std::vector<Table> all{
      {"meter",
       "/header/meter",
       true,
       {{"id", "/id"},
        {"title", "/title"},
        {"text", "/text"},
        {"serial", "/serial"},
        {"calibrated", "/calibrated"},
        {"port", "/port"}}},
      {"step",
       "/steps",
       false,
       {{"step", "/step", Kind::integer},
        {"kind", "/kind"},
        {"pair_first", "/pair/0"},
        {"pair_second", "/pair/1"},
        {"position", "/position"},
        {"instruction", "/instruction"},
        {"at", "/at"}}},
      {"reading", "/readings", false,
       joined({{"step", "/step", Kind::integer}}, value_columns(""),
              {{"at", "/at"}, {"at_s", "/at_s", Kind::real}, {"raw", "/raw", Kind::bytes}})},
      {"indication", "/indications", false,
       joined({{"step", "/step", Kind::integer},
               {"attempt", "/attempt", Kind::integer},
               {"contact_stated", "/contact_stated", Kind::boolean}},
              indication_columns("", true))},
      {"leads", "/leads", false, joined({{"when_taken", "/when"}}, indication_columns("", true))},
      {"event", "/events", false, {{"at", "/at"}, {"kind", "/kind"}, {"text", "/text"}}},
      {"acknowledgement",
       "/acknowledgements",
       false,
       {{"at", "/at"}, {"what", "/what"}, {"who", "/who"}, {"how", "/how"}, {"text", "/text"}}},
      {"verdict",
       "/verdict",
       true,
       {{"outcome", "/outcome"},
        {"headline", "/headline"},
        {"plan", "/plan"},
        {"diagnosis", "/diagnosis"},
        {"next_position", "/next_reading/position"},
        {"next_first", "/next_reading/pair/0"},
        {"next_second", "/next_reading/pair/1"},
        {"next_bits", "/next_reading/information_bits", Kind::real}}},
      {"explanation",
       "/verdict/explanations",
       false,
       {{"fault", "/fault"},
        {"words", "/words"},
        {"probability", "/probability", Kind::real},
        {"same_readings_as", "/same_readings_as", Kind::list},
        {"hides", "/hides", Kind::list},
        {"consequences", "/consequences", Kind::list}}},
      {"left_out", "/verdict/left_out", false, expectation_columns("")},
      {"finding", "/verdict/findings", false,
       joined(expectation_columns("/expected"), indication_columns("/indication", false),
              {{"corrected", "/corrected", Kind::real},
               {"expanded_uncertainty", "/U", Kind::real},
               {"outcome", "/outcome"},
               {"kind", "/kind"},
               {"severity", "/severity"},
               {"sound", "/sound"},
               {"witness", "/witness"},
               {"p_conform", "/p_conform", Kind::real},
               {"sentence", "/sentence"}})},
      {"inspection",
       "/verdict/inspection",
       false,
       {{"ask", "/ask"}, {"severity", "/severity"}, {"answer", "/answer", Kind::boolean}, {"note", "/note"}}},
      {"not_measured", "/verdict/not_measured", false, expectation_columns("")},
      {"voltage", "/verdict/voltages", false, voltage_columns()},
      {"voltage_not_measured", "/verdict/voltages_not_measured", false, voltage_expectation_columns("")},
      {"supply", "/verdict/supply", false, voltage_columns()},
      {"remark", "/verdict/remarks", false, {{"text", ""}}},
      {"ended", "/ended", true, {{"at", ""}}},
      {"trace",
       "/trace",
       true,
       {{"position", "/position"},
        {"setting", "/setting"},
        {"supply_v", "/supply_v", Kind::real},
        {"load", "/load"},
        {"load_ohm", "/load_ohm", Kind::real},
        {"ambient_c", "/ambient_c", Kind::real}}},
      {"trace_channel",
       "/channels",
       false,
       {{"channel", "/channel", Kind::integer},
        {"name", "/name"},
        {"quantity", "/quantity"},
        {"meter_id", "/meter/id"},
        {"meter_title", "/meter/title"},
        {"meter_text", "/meter/text"},
        {"port", "/meter/port"}}},
      {"sample",
       "/samples",
       false,
       {{"channel", "/channel", Kind::integer},
        {"t_s", "/t_s", Kind::real},
        {"state", "/state"},
        {"value", "/value", Kind::real},
        {"resolution", "/resolution", Kind::real}}},
      {"trace_result",
       "/results",
       false,
       {{"kind", "/kind"},
        {"channel", "/channel"},
        {"operations", "/operations", Kind::integer},
        {"json", "/json"}}},
  };
  return all;
}

const Table& record_table() {
  static const Table table{"record",
                           "/header",
                           true,
                           {{"id", "/id"},
                            {"kind", "/kind"},
                            {"started", "/started"},
                            {"tool_version", "/tool_version"},
                            {"operator", "/operator"},
                            {"part", "/part"},
                            {"serial", "/serial"},
                            {"profile_id", "/profile/id"},
                            {"profile_title", "/profile/title"},
                            {"profile_values", "/profile/values"},
                            {"profile_text", "/profile/text"},
                            {"hands", "/hands"},
                            {"rule", "/rule"},
                            {"plan", "/plan"},
                            {"k", "/k", Kind::real},
                            {"simulated", "/simulated", Kind::boolean}}};
  return table;
}

int newest_schema() {
  return static_cast<int>(migrations.size());
}

void migrate(const Database& database) {
  const auto version = [&] { return database.number("PRAGMA user_version"); };
  const auto check = [&] {
    const auto owner = database.number("PRAGMA application_id");
    const bool empty =
        owner == 0 && version() == 0 && database.number("SELECT count(*) FROM sqlite_schema") == 0;
    if (!empty && owner != application_id)
      throw Error(ErrorKind::store, "this file belongs to another program and is not a record store",
                  database.path().string(),
                  "name the right file with --store PATH; this file was not changed");
    if (version() > newest_schema())
      throw Error(ErrorKind::store,
                  fmt::format("the record store has schema {}, this switchwright knows up to {}", version(),
                              newest_schema()),
                  database.path().string(), "use a newer switchwright for this store; it was not changed");
  };
  check();
  if (version() == newest_schema()) return;
  Transaction transaction(database);
  check();  // another process may have migrated it since
  for (auto from = version(); from < newest_schema(); ++from)
    database.run(migrations[static_cast<std::size_t>(from)]);
  database.run(
      fmt::format("PRAGMA user_version={}; PRAGMA application_id={}", newest_schema(), application_id)
          .c_str());
  transaction.commit();
}

void write_rows(const Database& database, const Table& table, const std::string& record_id,
                std::int64_t sequence, const json& batch) {
  const json::json_pointer at(table.at);
  if (!batch.contains(at)) return;
  const json rows = table.single ? json::array({batch.at(at)}) : batch.at(at);
  std::string holders;
  for (std::size_t i = 0; i < table.columns.size(); ++i) holders += ", ?";
  Statement insert(database, fmt::format("INSERT INTO {} (record_id, seq, n{}) VALUES (?, ?, ?{})",
                                         table.name, column_names(table), holders));
  std::int64_t n = 0;
  for (const json& row : rows) {
    insert.reset();
    insert.bind(1, record_id);
    insert.bind(2, sequence);
    insert.bind(3, n++);
    bind_row(insert, 4, table, row);
    insert.step();
  }
}

void read_rows(const Database& database, const Table& table, const std::string& record_id,
               std::int64_t sequence, json& batch) {
  Statement select(database, fmt::format("SELECT n{} FROM {} WHERE record_id = ? AND seq = ? ORDER BY n",
                                         column_names(table), table.name));
  select.bind(1, record_id);
  select.bind(2, sequence);
  const json::json_pointer at(table.at);
  while (select.step()) {
    if (table.single)
      batch[at] = row_from(select, 1, table);
    else
      batch[at].push_back(row_from(select, 1, table));
  }
}

void write_record_row(const Database& database, const json& header) {
  const Table& table = record_table();
  std::string holders;
  for (std::size_t i = 0; i < table.columns.size(); ++i) holders += i == 0 ? "?" : ", ?";
  Statement insert(
      database, fmt::format("INSERT INTO record ({}) VALUES ({})", column_names(table).substr(2), holders));
  bind_row(insert, 1, table, header);
  insert.step();
}

json read_record_row(const Database& database, const std::string& record_id) {
  Statement select(database,
                   fmt::format("SELECT {} FROM record WHERE id = ?", column_names(record_table()).substr(2)));
  select.bind(1, record_id);
  return select.step() ? row_from(select, 0, record_table()) : json();
}

}  // namespace switchwright
