// The versions of the store: each migration takes a store from one schema to the next. On disk: never edited once
// released; a change is a new entry at the end.
#include <fmt/format.h>

#include <array>

#include "record/schema.hpp"
#include "switchwright/core/error.hpp"

namespace switchwright {

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
    // 6: which meters a trace was measured with, and every sample's frame as it came.
    R"sql(
ALTER TABLE trace_channel ADD COLUMN meter_serial TEXT;
ALTER TABLE trace_channel ADD COLUMN meter_calibrated TEXT;
ALTER TABLE sample ADD COLUMN raw BLOB;
)sql",
    // 7: what a verdict covers, and results of other instruments, as stated; the spread of settled readings, every visit to
    // a place, and what is stated about range and ambient; where each record's chain ends, noted beside the chain so that
    // a lost tail shows; a mark by which the file is known again; what each channel of a trace is connected to; what an
    // explanation assumes.
    R"sql(
ALTER TABLE verdict ADD COLUMN assumed TEXT;
ALTER TABLE record ADD COLUMN require TEXT;
ALTER TABLE verdict ADD COLUMN scope TEXT;
ALTER TABLE verdict ADD COLUMN required TEXT;
ALTER TABLE finding ADD COLUMN continuity TEXT;
CREATE TABLE stated (
  record_id TEXT NOT NULL, seq INTEGER NOT NULL, n INTEGER NOT NULL,
  id TEXT, value REAL, beyond TEXT, expanded_uncertainty REAL, instrument TEXT, due TEXT, text TEXT, at TEXT,
  PRIMARY KEY (record_id, seq, n), FOREIGN KEY (record_id, seq) REFERENCES batch) STRICT;
CREATE TABLE stated_finding (
  record_id TEXT NOT NULL, seq INTEGER NOT NULL, n INTEGER NOT NULL,
  id TEXT, quantity TEXT, unit TEXT, what TEXT, min REAL, max REAL, severity TEXT, must_be_stated INTEGER, result TEXT,
  expanded_uncertainty REAL, outcome TEXT NOT NULL, sentence TEXT,
  PRIMARY KEY (record_id, seq, n), FOREIGN KEY (record_id, seq) REFERENCES batch) STRICT;
ALTER TABLE indication ADD COLUMN spread REAL;
ALTER TABLE leads ADD COLUMN spread REAL;
ALTER TABLE finding ADD COLUMN spread REAL;
ALTER TABLE finding ADD COLUMN visits TEXT;
ALTER TABLE voltage ADD COLUMN spread REAL;
ALTER TABLE supply ADD COLUMN spread REAL;
ALTER TABLE record ADD COLUMN stated_range TEXT;
ALTER TABLE record ADD COLUMN ambient_c REAL;
CREATE TABLE chain_end (record_id TEXT PRIMARY KEY, links INTEGER NOT NULL, head TEXT NOT NULL) STRICT;
INSERT INTO chain_end (record_id, links, head)
  SELECT b.record_id, b.seq, b.sha256 FROM batch b
  WHERE b.seq = (SELECT max(l.seq) FROM batch l WHERE l.record_id = b.record_id);
CREATE TABLE store_identity (identity TEXT NOT NULL) STRICT;
INSERT INTO store_identity VALUES (lower(hex(randomblob(16))));
ALTER TABLE trace_channel ADD COLUMN role TEXT;
)sql",
    // 8: which placement of the probes a step, a reading and a slip of a probe belong to.
    R"sql(
ALTER TABLE step ADD COLUMN placement INTEGER;
ALTER TABLE indication ADD COLUMN placement INTEGER;
ALTER TABLE event ADD COLUMN placement INTEGER;
)sql",
    // 9: lots: what was ordered and planned, what happened to each unit, the bench checks and the decision.
    R"sql(
CREATE TABLE lot (
  record_id TEXT NOT NULL, seq INTEGER NOT NULL, n INTEGER NOT NULL,
  supplier TEXT, order_number TEXT, lot_number TEXT, size INTEGER NOT NULL, condition TEXT, level TEXT, mode TEXT,
  mode_reason TEXT, drawing TEXT, seed INTEGER, full_every INTEGER, classes TEXT, units TEXT, reference_set TEXT,
  versions TEXT,
  PRIMARY KEY (record_id, seq, n), FOREIGN KEY (record_id, seq) REFERENCES batch) STRICT;
CREATE TABLE lot_unit (
  record_id TEXT NOT NULL, seq INTEGER NOT NULL, n INTEGER NOT NULL,
  place INTEGER NOT NULL, unit INTEGER NOT NULL, what TEXT NOT NULL, serial TEXT, unit_record TEXT, unit_record_head TEXT,
  plan TEXT, outcome TEXT, severity TEXT, text TEXT, retest INTEGER, work_s REAL, operator TEXT, at TEXT,
  PRIMARY KEY (record_id, seq, n), FOREIGN KEY (record_id, seq) REFERENCES batch) STRICT;
CREATE INDEX lot_unit_by_serial ON lot_unit(serial);
CREATE TABLE bench_check (
  record_id TEXT NOT NULL, seq INTEGER NOT NULL, n INTEGER NOT NULL,
  reference TEXT, ohm REAL, expanded_uncertainty_ohm REAL, read_ohm REAL, limit_ohm REAL, is_in INTEGER,
  check_record TEXT, operator TEXT, at TEXT,
  PRIMARY KEY (record_id, seq, n), FOREIGN KEY (record_id, seq) REFERENCES batch) STRICT;
CREATE TABLE lot_decision (
  record_id TEXT NOT NULL, seq INTEGER NOT NULL, n INTEGER NOT NULL,
  decision TEXT NOT NULL, reason TEXT, operator TEXT, at TEXT,
  PRIMARY KEY (record_id, seq, n), FOREIGN KEY (record_id, seq) REFERENCES batch) STRICT;
)sql",
    // 10: what a claim names, and which time the clock on the bench's wall showed.
    R"sql(
ALTER TABLE record ADD COLUMN claim_order TEXT;
ALTER TABLE record ADD COLUMN appliance TEXT;
ALTER TABLE record ADD COLUMN appliance_serial TEXT;
ALTER TABLE record ADD COLUMN date_code TEXT;
ALTER TABLE record ADD COLUMN supplier TEXT;
ALTER TABLE record ADD COLUMN supplier_lot TEXT;
ALTER TABLE record ADD COLUMN customer_remark TEXT;
ALTER TABLE record ADD COLUMN utc_offset_min INTEGER;
ALTER TABLE record ADD COLUMN zone TEXT;
)sql",
    // 11: what was agreed for a lot, and what a lot that comes again stands for.
    R"sql(
ALTER TABLE lot ADD COLUMN reduced_limit INTEGER;
ALTER TABLE lot ADD COLUMN resubmits TEXT;
ALTER TABLE lot ADD COLUMN resubmitted_words TEXT;
ALTER TABLE lot ADD COLUMN corrective_action TEXT;
)sql",
    // 12: a part is found among very many.
    R"sql(
CREATE INDEX record_by_serial ON record(serial, id);
)sql",
};

}  // namespace

int newest_schema() { return static_cast<int>(migrations.size()); }

void migrate(const Database& database) {
  const auto version = [&] { return database.number("PRAGMA user_version"); };
  const auto check = [&] {
    const auto owner = database.number("PRAGMA application_id");
    const bool empty = owner == 0 && version() == 0 && database.number("SELECT count(*) FROM sqlite_schema") == 0;
    if (!empty && owner != application_id)
      throw Error(ErrorKind::store, "this file belongs to another program and is not a record store",
                  database.path().string(), "name the right file with --store PATH; this file was not changed");
    if (version() > newest_schema())
      throw Error(
          ErrorKind::store,
          fmt::format("the record store has schema {}, this switchwright knows up to {}", version(), newest_schema()),
          database.path().string(), "use a newer switchwright for this store; it was not changed");
  };
  {
    // In one moment: another process that makes the store meanwhile would show its tables before its name.
    const Snapshot moment(database);
    check();
    if (version() == newest_schema()) return;
  }
  Transaction transaction(database);
  check();  // another process may have migrated it since
  for (auto from = version(); from < newest_schema(); ++from) database.run(migrations[static_cast<std::size_t>(from)]);
  database.run(
      fmt::format("PRAGMA user_version={}; PRAGMA application_id={}", newest_schema(), application_id).c_str());
  transaction.commit();
}

}  // namespace switchwright
