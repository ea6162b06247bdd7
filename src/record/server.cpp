#include "record/server.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cstdlib>
#include <nlohmann/json.hpp>

#include "record/binary_copy.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/judge/scope_json.hpp"
#include "switchwright/record/record_json.hpp"
#include "switchwright/record/sha256.hpp"

#ifdef SWITCHWRIGHT_LIBPQ
#include <libpq-fe.h>
#endif

namespace switchwright {

using nlohmann::json;

bool names_server(const std::string& place) {
  return place.starts_with("postgresql://") || place.starts_with("postgres://");
}

#ifndef SWITCHWRIGHT_LIBPQ

struct Server::Impl {};
Server::Server(const std::string&) {
  throw Error(ErrorKind::usage, "this switchwright was built without libpq and reaches no server", "",
              "install the Debian package libpq-dev and build again");
}
Server::~Server() = default;
void Server::walk(const std::string&, const std::function<bool(const RecordSummary&)>&) const {}
std::int64_t Server::count() const { return 0; }
std::map<std::string, ChainEnd> Server::ends() const { return {}; }
std::vector<std::string> Server::ids_like(const std::string&) const { return {}; }
ChainEnd Server::end_of(const std::string&) const { return {}; }
std::string Server::hash_at(const std::string&, std::int64_t) const { return {}; }
std::vector<std::string> Server::ids_of(const std::string&, const std::string&) const { return {}; }
std::string Server::newest() const { return {}; }
Server::Begun Server::begin(const std::string&) { return {}; }
Server::Prepared Server::prepare(const Begun&, const std::vector<std::string>&) { return {}; }
void Server::each_link(const std::string&, std::int64_t, const std::function<void(const std::string&)>&) const {}
void Server::add(const Prepared&) {}
std::string Server::check(const std::string&) const { return {}; }

#else

namespace {

/// A password on a command line stands in the process list and the shell's history for everybody.
void refuse_password(const std::string& url) {
  const auto begin = url.find("://") + 3;
  const auto authority = url.substr(begin, url.find_first_of("/?", begin) - begin);
  const auto at = authority.rfind('@');
  const bool in_user = at != std::string::npos && authority.substr(0, at).find(':') != std::string::npos;
  if (in_user || url.find("password=", begin) != std::string::npos)
    throw Error(ErrorKind::usage, "a password stands in the address of the server, where everybody can see it", "",
                "leave it out, and put it into ~/.pgpass (see PostgreSQL's manual: The Password File)");
}

void put_text(BinaryCopy& rows, const json& object, const char* key) {
  const auto found = object.find(key);
  found == object.end() ? rows.null() : rows.text(found->get_ref<const std::string&>());
}
void put_integer(BinaryCopy& rows, const json& object, const char* key) {
  const auto found = object.find(key);
  found == object.end() ? rows.null() : rows.integer(found->get<std::int32_t>());
}
void put_real(BinaryCopy& rows, const json& object, const char* key) {
  const auto found = object.find(key);
  found == object.end() ? rows.null() : rows.real(found->get<double>());
}

using Parameters = std::vector<std::string>;

}  // namespace

struct Server::Impl {
  std::string url;
  PGconn* connection = nullptr;

  ~Impl() { PQfinish(connection); }

  [[noreturn]] void fail(std::string what) const {
    std::replace(what.begin(), what.end(), '\n', ' ');
    while (!what.empty() && what.back() == ' ') what.pop_back();
    throw Error(ErrorKind::store, "the server says: " + what, url,
                "what this bench has measured is safe in its own store; try again when the server answers");
  }

  struct Rows {
    PGresult* result = nullptr;
    ~Rows() { PQclear(result); }
    int count() const { return PQntuples(result); }
    std::string text(int row, int column) const {
      return {PQgetvalue(result, row, column), static_cast<std::size_t>(PQgetlength(result, row, column))};
    }
    bool null(int row, int column) const { return PQgetisnull(result, row, column) == 1; }
  };

  std::unique_ptr<Rows> run(const std::string& sql, const Parameters& parameters = {}) const {
    std::vector<const char*> values;
    for (const std::string& one : parameters) values.push_back(one.c_str());
    auto rows = std::make_unique<Rows>();
    rows->result = PQexecParams(connection, sql.c_str(), static_cast<int>(values.size()), nullptr,
                                values.empty() ? nullptr : values.data(), nullptr, nullptr, 0);
    const auto status = PQresultStatus(rows->result);
    if (status != PGRES_TUPLES_OK && status != PGRES_COMMAND_OK) fail(PQerrorMessage(connection));
    return rows;
  }

  static RecordSummary summary_in(const Rows& rows, int i);

  void copy(const std::string& sql, const std::string& lines) const {
    Rows begun{PQexec(connection, sql.c_str())};
    if (PQresultStatus(begun.result) != PGRES_COPY_IN) fail(PQerrorMessage(connection));
    if (PQputCopyData(connection, lines.data(), static_cast<int>(lines.size())) != 1 ||
        PQputCopyEnd(connection, nullptr) != 1)
      fail(PQerrorMessage(connection));
    std::string refused;
    while (PGresult* result = PQgetResult(connection)) {
      const Rows one{result};
      if (PQresultStatus(one.result) != PGRES_COMMAND_OK)
        refused = PQresultErrorField(one.result, PG_DIAG_MESSAGE_PRIMARY)
                      ? PQresultErrorField(one.result, PG_DIAG_MESSAGE_PRIMARY)
                      : PQerrorMessage(connection);
    }
    if (!refused.empty()) fail(refused);
  }
};

Server::Server(const std::string& url) : impl_(std::make_unique<Impl>()) {
  refuse_password(url);
  impl_->url = url;
  if (std::getenv("PGCONNECT_TIMEOUT") == nullptr && url.find("connect_timeout=") == std::string::npos)
    ::setenv("PGCONNECT_TIMEOUT", "5", 0);
  impl_->connection = PQconnectdb(url.c_str());
  if (PQstatus(impl_->connection) != CONNECTION_OK) impl_->fail(PQerrorMessage(impl_->connection));
  PQsetClientEncoding(impl_->connection, "UTF8");
  PQsetNoticeProcessor(
      impl_->connection, [](void*, const char*) {}, nullptr);
  if (impl_->run("SELECT to_regclass('switchwright.version')")->null(0, 0))
    throw Error(ErrorKind::store, "this database holds no tables of switchwright", url,
                "make them once, as its owner: switchwright records push --sql | psql DATABASE");
  if (const auto version = impl_->run("SELECT max(version) FROM switchwright.version")->text(0, 0); version != "2")
    throw Error(
        ErrorKind::store, "the server's tables have version " + version + ", this switchwright knows version 2", url,
        version == "1" ? "let its owner drop the schema switchwright and make it again (records push --sql); every "
                         "bench still has its records and sends them again"
                       : "use a newer switchwright");
}

Server::~Server() = default;

RecordSummary Server::Impl::summary_in(const Rows& rows, int i) {
  RecordSummary one;
  one.id = rows.text(i, 0);
  one.outcome = rows.null(i, 2) ? "unfinished" : rows.text(i, 2);
  try {
    const RecordHeader h = header_from_json(json::parse(rows.text(i, 1)));
    one.kind = h.kind;
    one.started = h.started;
    one.part = h.part;
    one.serial = h.serial;
    one.profile_id = h.profile_id;
    one.meter_id = h.meter_id;
    one.operator_name = h.operator_name;
    one.simulated = h.simulated;
    one.claim = h.claim;
    if (!rows.null(i, 4)) one.fault = rows.text(i, 4);
    if (!rows.null(i, 3)) one.scope = scope_from(json::parse(rows.text(i, 3)));
  } catch (const std::exception& error) {
    one.chain_fault = fmt::format("record {}: its header cannot be read: {}", one.id, error.what());
  }
  return one;
}

void Server::walk(const std::string& serial, const std::function<bool(const RecordSummary&)>& visit) const {
  constexpr int at_once = 200;
  std::string started = "infinity", id;
  for (;;) {
    const auto rows = impl_->run(
        fmt::format("SELECT l.id, l.header, l.outcome, l.scope, l.explained_by, l.started FROM (SELECT id FROM "
                    "switchwright.seen_record WHERE (started, id) < ($1::timestamptz, $2) AND ($3 = '' OR serial = $3) "
                    "ORDER BY started DESC, id DESC LIMIT {}) r JOIN switchwright.listed l ON l.id = r.id ORDER BY "
                    "l.started DESC, l.id DESC",
                    at_once),
        {started, id, serial});
    for (int i = 0; i < rows->count(); ++i)
      if (!visit(Impl::summary_in(*rows, i))) return;
    if (rows->count() < at_once) return;
    id = rows->text(rows->count() - 1, 0);
    started = rows->text(rows->count() - 1, 5);
  }
}

std::int64_t Server::count() const {
  return std::stoll(impl_->run("SELECT count(*) FROM switchwright.seen_record")->text(0, 0));
}

std::map<std::string, ChainEnd> Server::ends() const {
  const auto rows = impl_->run(
      "SELECT DISTINCT ON (record_id) record_id, seq, sha256 FROM switchwright.seen_link ORDER BY record_id, seq DESC");
  std::map<std::string, ChainEnd> ends;
  for (int i = 0; i < rows->count(); ++i)
    ends.emplace(rows->text(i, 0), ChainEnd{std::stoll(rows->text(i, 1)), rows->text(i, 2)});
  return ends;
}

std::vector<std::string> Server::ids_like(const std::string& text) const {
  const auto rows = impl_->run(
      "SELECT id FROM switchwright.seen_record WHERE id = $1 OR starts_with(id, $1) ORDER BY id = $1 DESC, id DESC LIMIT 7",
      {text});
  std::vector<std::string> ids;
  for (int i = 0; i < rows->count(); ++i) ids.push_back(rows->text(i, 0));
  return ids;
}

std::vector<std::string> Server::ids_of(const std::string& kind, const std::string& serial) const {
  const auto rows = impl_->run(
      "SELECT id FROM switchwright.seen_record WHERE kind = $1 AND ($2 = '' OR serial = $2) ORDER BY started, id",
      {kind, serial});
  std::vector<std::string> ids;
  for (int i = 0; i < rows->count(); ++i) ids.push_back(rows->text(i, 0));
  return ids;
}

std::string Server::newest() const {
  const auto rows = impl_->run("SELECT id FROM switchwright.seen_record ORDER BY started DESC, id DESC LIMIT 1");
  return rows->count() == 0 ? std::string{} : rows->text(0, 0);
}

ChainEnd Server::end_of(const std::string& id) const {
  const auto rows = impl_->run(
      "SELECT l.seq, l.sha256 FROM switchwright.seen_link l JOIN switchwright.seen_record r ON r.id = l.record_id AND r.started = "
      "l.started WHERE r.id = $1 ORDER BY l.seq DESC LIMIT 1",
      {id});
  if (rows->count() == 0) return {};
  return {std::stoll(rows->text(0, 0)), rows->text(0, 1)};
}

std::string Server::hash_at(const std::string& id, std::int64_t sequence) const {
  const auto rows = impl_->run("SELECT sha256 FROM switchwright.seen_link WHERE record_id = $1 AND seq = $2",
                               {id, std::to_string(sequence)});
  return rows->count() == 0 ? std::string{} : rows->text(0, 0);
}

void Server::each_link(const std::string& id, std::int64_t after,
                       const std::function<void(const std::string&)>& take) const {
  constexpr int at_once = 500;
  for (;;) {
    const auto rows = impl_->run(
        "SELECT l.canonical FROM switchwright.seen_link l JOIN switchwright.seen_record r ON r.id = l.record_id AND r.started = l.started "
        "WHERE r.id = $1 AND l.seq > $2 ORDER BY l.seq LIMIT " +
            std::to_string(at_once),
        {id, std::to_string(after)});
    for (int i = 0; i < rows->count(); ++i) take(rows->text(i, 0));
    if (rows->count() < at_once) return;
    after += at_once;
  }
}

Server::Begun Server::begin(const std::string& first_link) {
  const json link = json::parse(first_link);
  const std::string id = link.at("record").get<std::string>();
  impl_->run("BEGIN");  // ended by add(): no record without its first links
  if (link.at("batch") == 1) {
    const json& header = link.at("header");
    const std::string started = header.at("started").get<std::string>();
    impl_->run("SELECT switchwright.make_month($1)", {started});
    const auto text = [&](const char* key) { return header.value(key, std::string{}); };
    impl_->run(
        "INSERT INTO switchwright.record (id, started, header, kind, part, serial, profile, operator) VALUES ($1, "
        "$2, $3, $4, nullif($5, ''), nullif($6, ''), nullif($7, ''), nullif($8, '')) ON CONFLICT DO NOTHING",
        {id, started, header.dump(), text("kind"), text("part"), text("serial"),
         header.value("profile", json::object()).value("id", ""), text("operator")});
  }
  // The server's own word for the time, to the microsecond that it keeps.
  const auto rows = impl_->run(
      "SELECT (extract(epoch FROM started - timestamptz '2000-01-01 00:00:00+00') * 1000000)::bigint FROM "
      "switchwright.seen_record WHERE id = $1",
      {id});
  if (rows->count() == 0) impl_->fail("record " + id + " belongs to another bench");
  return {id, std::stoll(rows->text(0, 0))};
}

Server::Prepared Server::prepare(const Begun& begun, const std::vector<std::string>& links) {
  BinaryCopy link_rows, reading_rows;
  bool any_reading = false;
  for (const std::string& bytes : links) {
    const json link = json::parse(bytes);
    const auto batch = link.at("batch").get<std::int64_t>();
    link_rows.row(6);
    link_rows.text(begun.id);
    link_rows.bigint(begun.started_us);
    link_rows.bigint(batch);
    link_rows.text(link.at("previous").get_ref<const std::string&>());
    link_rows.text(sha256_hex(bytes));
    link_rows.text(bytes);
    std::int32_t n = 0;
    for (const char* list : {"readings", "samples"})
      if (const auto rows = link.find(list); rows != link.end())
        for (const json& row : *rows) {
          any_reading = true;
          reading_rows.row(11);
          reading_rows.text(begun.id);
          reading_rows.bigint(begun.started_us);
          reading_rows.bigint(batch);
          reading_rows.integer(n++);
          put_integer(reading_rows, row, "step");
          put_integer(reading_rows, row, "channel");
          put_real(reading_rows, row, row.contains("at_s") ? "at_s" : "t_s");
          put_text(reading_rows, row, "quantity");
          put_text(reading_rows, row, "state");
          put_real(reading_rows, row, "value");
          put_real(reading_rows, row, "resolution");
        }
  }
  return {link_rows.end(), any_reading ? reading_rows.end() : std::string{}, static_cast<std::int64_t>(links.size())};
}

void Server::add(const Prepared& prepared) {
  if (PQtransactionStatus(impl_->connection) == PQTRANS_IDLE) impl_->run("BEGIN");
  try {
    impl_->copy(
        "COPY switchwright.link (record_id, started, seq, previous, sha256, canonical) FROM STDIN (FORMAT binary)",
        prepared.links);
    if (!prepared.readings.empty())
      impl_->copy(
          "COPY switchwright.reading (record_id, started, seq, n, step, channel, at_s, quantity, state, value, "
          "resolution) FROM STDIN (FORMAT binary)",
          prepared.readings);
    impl_->run("COMMIT");
  } catch (...) {
    PQclear(PQexec(impl_->connection, "ROLLBACK"));
    throw;
  }
}

std::string Server::check(const std::string& id) const {
  const auto rows = impl_->run("SELECT switchwright.check_record($1)", {id});
  return rows->null(0, 0) ? std::string{} : rows->text(0, 0);
}

#endif

}  // namespace switchwright
