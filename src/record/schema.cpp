#include "record/schema.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <nlohmann/json.hpp>
#include <sstream>

namespace switchwright {

using nlohmann::json;

namespace {

void bind_value(Statement& statement, int parameter, const Column& column, const json& value) {
  switch (column.kind) {
    case Kind::text: return statement.bind(parameter, value.get_ref<const std::string&>());
    case Kind::integer: return statement.bind(parameter, value.get<std::int64_t>());
    case Kind::real: return statement.bind(parameter, value.get<double>());
    case Kind::boolean: return statement.bind(parameter, std::int64_t{value.get<bool>()});
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
    case Kind::list: return statement.bind(parameter, value.dump());
  }
}

json column_value(const Statement& statement, int index, const Column& column) {
  switch (column.kind) {
    case Kind::text: return statement.text(index);
    case Kind::integer: return statement.integer(index);
    case Kind::real: return statement.real(index);
    case Kind::boolean: return statement.integer(index) != 0;
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
    case Kind::list: {
      // What somebody else wrote there may be no JSON: as a text it differs from what the chain has, and is told so.
      json list = json::parse(statement.text(index), nullptr, false);
      return list.is_discarded() ? json(statement.text(index)) : list;
    }
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
    if (!statement.is_null(first)) row[json::json_pointer(column.at)] = column_value(statement, first, column);
    ++first;
  }
  return row;
}

}  // namespace

void write_rows(const Database& database, const Table& table, const std::string& record_id, std::int64_t sequence,
                const json& batch) {
  const json::json_pointer at(table.at);
  if (!batch.contains(at)) return;
  const json rows = table.single ? json::array({batch.at(at)}) : batch.at(at);
  std::string holders;
  for (std::size_t i = 0; i < table.columns.size(); ++i) holders += ", ?";
  Statement insert(database, fmt::format("INSERT INTO {} (record_id, seq, n{}) VALUES (?, ?, ?{})", table.name,
                                         column_names(table), holders));
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

void read_rows(const Database& database, const Table& table, const std::string& record_id, std::int64_t sequence,
               json& batch) {
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

RowCursor::RowCursor(const Database& database, const Table& table, const std::string& record_id)
    : table_(&table),
      select_(database, fmt::format("SELECT seq{} FROM {} WHERE record_id = ? ORDER BY seq, n", column_names(table),
                                    table.name)) {
  select_.bind(1, record_id);
  more_ = select_.step();
}

void RowCursor::read(std::int64_t sequence, json& batch) {
  while (more_ && select_.integer(0) < sequence) more_ = select_.step();
  if (!more_ || select_.integer(0) != sequence) return;
  const json::json_pointer at(table_->at);
  for (; more_ && select_.integer(0) == sequence; more_ = select_.step()) {
    if (table_->single)
      batch[at] = row_from(select_, 1, *table_);
    else
      batch[at].push_back(row_from(select_, 1, *table_));
  }
}

BatchCursor::BatchCursor(const Database& database, const std::string& record_id,
                         const std::vector<std::string>& without) {
  for (const Table& table : tables())
    if (std::find(without.begin(), without.end(), table.name) == without.end())
      rows_.emplace_back(database, table, record_id);
}

json BatchCursor::read(std::int64_t sequence) {
  json batch = json::object();
  for (RowCursor& rows : rows_) rows.read(sequence, batch);
  return batch;
}

void write_record_row(const Database& database, const json& header) {
  const Table& table = record_table();
  std::string holders;
  for (std::size_t i = 0; i < table.columns.size(); ++i) holders += i == 0 ? "?" : ", ?";
  Statement insert(database,
                   fmt::format("INSERT INTO record ({}) VALUES ({})", column_names(table).substr(2), holders));
  bind_row(insert, 1, table, header);
  insert.step();
}

json read_record_row(const Database& database, const std::string& record_id) {
  Statement select(database, fmt::format("SELECT {} FROM record WHERE id = ?", column_names(record_table()).substr(2)));
  select.bind(1, record_id);
  return select.step() ? row_from(select, 0, record_table()) : json();
}

}  // namespace switchwright
