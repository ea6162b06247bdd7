#include "record/chain_walk.hpp"

#include <fmt/format.h>

#include <nlohmann/json.hpp>

#include "record/schema.hpp"
#include "switchwright/record/canonical.hpp"
#include "switchwright/record/sha256.hpp"

namespace switchwright {

using nlohmann::json;

namespace {

/// Where two versions of a link differ, for a person: "finding, row 3" or "record, column serial".
std::string first_difference(const json& written, const json& found) {
  const auto column_of = [](const Table& table, const json& a, const json& b) -> std::string {
    const auto own = [](const json& object, const Column& column) {
      const json::json_pointer inside(column.at);
      return object.contains(inside) ? object.at(inside) : json();
    };
    for (const Column& column : table.columns)
      if (own(a, column) != own(b, column)) return table.name + ", column " + column.name;
    return {};
  };
  const auto at = [](const json& object, const Table& table) {
    const json::json_pointer inside(table.at);
    return object.contains(inside) ? object.at(inside) : json();
  };
  if (const auto where = column_of(record_table(), at(written, record_table()), at(found, record_table()));
      !where.empty())
    return where;
  for (const Table& table : tables()) {
    const json a = at(written, table), b = at(found, table);
    if (table.single || !a.is_array() || !b.is_array()) {
      if (table.single)
        if (const auto where = column_of(table, a, b); !where.empty()) return where;
      if (!table.single && a != b) return table.name + ": rows are missing or were added";
      continue;
    }
    if (a.size() != b.size()) return table.name + ": rows are missing or were added";
    for (std::size_t i = 0; i < a.size(); ++i)
      if (a[i] != b[i]) return fmt::format("{}, row {}", table.name, i + 1);
  }
  return "record";
}

/// Rows of a batch that is in no chain. @returns the table's name, or nothing.
std::string stray_rows(const Database& database, const std::string& record_id, std::int64_t links) {
  for (const Table& table : tables()) {
    Statement stray(database, fmt::format("SELECT 1 FROM {} WHERE record_id = ? AND (seq < 1 OR seq > ?)", table.name));
    stray.bind(1, record_id);
    stray.bind(2, links);
    if (stray.step()) return table.name;
  }
  return {};
}

}  // namespace

json stored_header(const Database& database, const std::string& record_id) {
  json header = read_record_row(database, record_id);
  json batch = json::object();
  read_rows(database, tables().front(), record_id, 1, batch);
  if (batch.contains("header")) header["meter"] = batch["header"]["meter"];
  return header;
}

ChainEnd noted_end(const Database& database, const std::string& record_id) {
  Statement select(database, "SELECT links, head FROM chain_end WHERE record_id = ?");
  select.bind(1, record_id);
  if (!select.step()) return {};
  return {select.integer(0), select.text(1)};
}

ChainEnd found_end(const Database& database, const std::string& record_id) {
  Statement last(database, "SELECT seq, sha256 FROM batch WHERE record_id = ? ORDER BY seq DESC LIMIT 1");
  last.bind(1, record_id);
  if (!last.step()) return {};
  return {last.integer(0), last.text(1)};
}

void note_end(const Database& database, const std::string& record_id, const ChainEnd& end) {
  Statement put(database,
                "INSERT INTO chain_end (record_id, links, head) VALUES (?1, ?2, ?3) "
                "ON CONFLICT (record_id) DO UPDATE SET links = ?2, head = ?3");
  put.bind(1, record_id);
  put.bind(2, end.links);
  put.bind(3, end.head);
  put.step();
}

ChainWalk walk_chain(const Database& database, const std::string& record_id,
                     const std::function<void(const json&)>& take) {
  ChainWalk walk;
  const auto broken = [&](std::int64_t batch, const std::string& what) {
    if (walk.fault.empty()) walk.fault = fmt::format("record {}, batch {}: {}", record_id, batch, what);
  };
  Statement links(database, "SELECT seq, previous, sha256, canonical FROM batch WHERE record_id = ? ORDER BY seq");
  links.bind(1, record_id);
  BatchCursor batches(database, record_id);
  while (links.step()) {
    const std::int64_t number = ++walk.links;
    const std::int64_t sequence = links.integer(0);
    if (sequence != number) broken(number, "this batch is missing");
    const std::string bytes = links.text(3);
    const std::string digest = sha256_hex(bytes);
    if (digest != links.text(2)) broken(number, "the kept bytes no longer have the SHA-256 that was written with them");
    json written = json::parse(bytes, nullptr, false);
    json found = batches.read(sequence);
    if (number == 1)
      if (json header = stored_header(database, record_id); !header.is_null()) found["header"] = std::move(header);
    if (!written.is_object()) {
      broken(number, "the kept bytes are no longer JSON");
      take(found);
    } else {
      if (links.text(1) != walk.head || written.value("previous", json()) != walk.head)
        broken(number, "it does not name the SHA-256 of the batch before it");
      found["record"] = record_id;
      found["batch"] = number;
      found["previous"] = walk.head;
      if (written != found || canonical_bytes(written) != bytes)
        broken(number, "what is stored differs from what was written (" + first_difference(written, found) + ")");
      take(written);
    }
    walk.head = digest;
  }
  if (walk.links == 0) broken(1, "this batch is missing");
  const ChainEnd noted = noted_end(database, record_id);
  if (noted.links != walk.links)
    broken(walk.links + 1, fmt::format("{} batches were written and {} are there", noted.links, walk.links));
  else if (noted.head != walk.head)
    broken(walk.links, "the chain ends otherwise than was noted when it was written");
  if (const std::string table = stray_rows(database, record_id, walk.links); !table.empty())
    broken(walk.links + 1, "rows of table " + table + " belong to a batch that is missing");
  return walk;
}

}  // namespace switchwright
