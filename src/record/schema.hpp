// The tables of the store, their versions, and how a batch's JSON lies in them. Everything here is on disk: a
// table or column is never renamed or given another meaning; a change is a new step at the end of the
// migrations.
#pragma once

#include <nlohmann/json_fwd.hpp>
#include <optional>
#include <string>
#include <vector>

#include "record/database.hpp"

namespace switchwright {

/// How a JSON value lies in a column.
enum class Kind {
  text,
  integer,
  real,
  boolean,
  words,  ///< a list of words without blanks, joined by blanks
  bytes,
  list,  ///< any list or object, as JSON text
};

struct Column {
  std::string name;
  std::string at;  ///< JSON pointer inside the row's object; empty: the row is the value itself
  Kind kind = Kind::text;
};

struct Table {
  std::string name;
  std::string at;       ///< JSON pointer inside the batch
  bool single = false;  ///< one object instead of a list of rows
  std::vector<Column> columns;
};

/// Every table that is filled from a batch, parents before children.
const std::vector<Table>& tables();
/// The record's own line, filled from "header" of the first batch.
const Table& record_table();

/// Brings an empty or older store to the newest schema. @throws Error(store) for a newer schema or another
/// program's file.
void migrate(const Database& database);
int newest_schema();

/// Writes what `batch` holds for `table`.
void write_rows(const Database& database, const Table& table, const std::string& record_id, std::int64_t sequence,
                const nlohmann::json& batch);
/// Puts what `table` holds for one batch back into `batch`.
void read_rows(const Database& database, const Table& table, const std::string& record_id, std::int64_t sequence,
               nlohmann::json& batch);
/// Goes through what one table holds for a record, batch after batch, with one query for all of them.
class RowCursor {
 public:
  RowCursor(const Database& database, const Table& table, const std::string& record_id);
  /// As read_rows. Ask for ascending sequences.
  void read(std::int64_t sequence, nlohmann::json& batch);
  const Table& table() const { return *table_; }

 private:
  const Table* table_;
  Statement select_;
  bool more_;
};
/// All tables at once but for those in `without`.
class BatchCursor {
 public:
  BatchCursor(const Database& database, const std::string& record_id, const std::vector<std::string>& without = {});
  nlohmann::json read(std::int64_t sequence);

 private:
  std::vector<RowCursor> rows_;
};
void write_record_row(const Database& database, const nlohmann::json& header);
/// The header without the parts that lie in other tables.
nlohmann::json read_record_row(const Database& database, const std::string& record_id);

}  // namespace switchwright
