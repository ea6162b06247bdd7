#include "record/database.hpp"

#include <sqlite3.h>

#include <algorithm>

#include "switchwright/core/error.hpp"
#include "switchwright/record/store.hpp"

namespace switchwright {

namespace {

struct Advice {
  std::string what;
  std::string next;
};

/// One sentence per way in which a store fails. What was committed before is never lost by any of them.
Advice advice_for(int code, int system_error, const std::string& message) {
  const std::string because = system_error != 0 ? " (" + system_error_text(system_error) + ")" : "";
  switch (code & 0xFF) {
    case SQLITE_FULL:
      return {"the disk is full, so nothing more can be recorded",
              "free some space, then try again; everything written before is kept"};
    case SQLITE_READONLY:
    case SQLITE_PERM:
    case SQLITE_AUTH:
      return {"the record store may not be written" + because,
              "make the file and its folder writable for you, or name another store with --store PATH"};
    case SQLITE_CANTOPEN:
      return {"the record store cannot be opened" + because,
              "check that the folder exists and is yours to write, or name another store with --store PATH"};
    case SQLITE_BUSY:
    case SQLITE_LOCKED:
      return {"another program has kept the record store locked for too long",
              "close the other program that writes to it, then try again"};
    case SQLITE_NOTADB:
      return {"this file is not a record store", "name the right file with --store PATH; this file was not changed"};
    case SQLITE_CORRUPT:
      return {"the record store is damaged (" + message + ")",
              "make a copy of the file before anything else, start a new store with --store PATH, and "
              "recover the "
              "old one with: sqlite3 FILE .recover"};
    case SQLITE_IOERR:
      if (code == SQLITE_IOERR_WRITE)
        return {"the record store could not be written" + because,
                "check the disk, and that no file size limit stands in the way (ulimit -f), then try again; "
                "everything "
                "written before is kept"};
      return {"the record store could not be read" + because,
              "check the disk and its cable, then try again; everything written before is kept"};
    case SQLITE_CONSTRAINT:
      return {"the record store refused an entry (" + message + ")",
              "please report this; everything written before is kept"};
    default: return {"the record store failed (" + message + ")", "try again; everything written before is kept"};
  }
}

}  // namespace

void Statement::Finalize::operator()(sqlite3_stmt* statement) const { sqlite3_finalize(statement); }

Statement::Statement(const Database& database, std::string_view sql) : database_(database) {
  sqlite3_stmt* statement = nullptr;
  const int code = sqlite3_prepare_v2(database.handle(), sql.data(), static_cast<int>(sql.size()), &statement, nullptr);
  statement_.reset(statement);
  check(code);
}

void Statement::check(int code) {
  if (code != SQLITE_OK) database_.fail(code);
}

void Statement::bind(int parameter, std::int64_t value) {
  check(sqlite3_bind_int64(statement_.get(), parameter, value));
}
void Statement::bind(int parameter, double value) { check(sqlite3_bind_double(statement_.get(), parameter, value)); }
void Statement::bind(int parameter, std::string_view text) {
  check(sqlite3_bind_text64(statement_.get(), parameter, text.empty() ? "" : text.data(), text.size(), SQLITE_TRANSIENT,
                            SQLITE_UTF8));
}
void Statement::bind_bytes(int parameter, std::string_view bytes) {
  check(sqlite3_bind_blob64(statement_.get(), parameter, bytes.empty() ? "" : bytes.data(), bytes.size(),
                            SQLITE_TRANSIENT));
}

bool Statement::step() {
  const int code = sqlite3_step(statement_.get());
  if (code == SQLITE_ROW) return true;
  if (code != SQLITE_DONE) database_.fail(code);
  return false;
}

void Statement::reset() {
  sqlite3_reset(statement_.get());
  sqlite3_clear_bindings(statement_.get());
}

bool Statement::is_null(int column) const { return sqlite3_column_type(statement_.get(), column) == SQLITE_NULL; }
std::int64_t Statement::integer(int column) const { return sqlite3_column_int64(statement_.get(), column); }
double Statement::real(int column) const { return sqlite3_column_double(statement_.get(), column); }
std::string Statement::text(int column) const {
  const auto* bytes = static_cast<const char*>(sqlite3_column_blob(statement_.get(), column));
  const int length = sqlite3_column_bytes(statement_.get(), column);
  return bytes == nullptr ? std::string{} : std::string(bytes, static_cast<std::size_t>(length));
}

void Database::Close::operator()(sqlite3* handle) const { sqlite3_close_v2(handle); }

Database::Database(const std::filesystem::path& path, int busy_timeout_ms) : path_(path) {
  sqlite3* handle = nullptr;
  const int code = sqlite3_open_v2(path.c_str(), &handle, SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE, nullptr);
  handle_.reset(handle);
  if (handle == nullptr || code != SQLITE_OK) fail(code);
  sqlite3_extended_result_codes(handle, 1);
  sqlite3_busy_timeout(handle, busy_timeout_ms);
  if (sqlite3_db_readonly(handle, "main") == 1) fail(SQLITE_READONLY);
  // A file from elsewhere must not make this program do anything: no triggers, no functions in its schema.
  if (sqlite3_db_config(handle, SQLITE_DBCONFIG_ENABLE_TRIGGER, 0, nullptr) != SQLITE_OK ||
      sqlite3_db_config(handle, SQLITE_DBCONFIG_TRUSTED_SCHEMA, 0, nullptr) != SQLITE_OK)
    fail(SQLITE_MISUSE);
}

void Database::run(const char* sql) const {
  const int code = sqlite3_exec(handle_.get(), sql, nullptr, nullptr, nullptr);
  if (code != SQLITE_OK) fail(code);
}

void Database::set(const std::string& pragma, const std::string& value,
                   const std::vector<std::string>& accepted) const {
  // Some pragmas answer when they are set, others only when they are asked.
  Statement(*this, "PRAGMA " + pragma + "=" + value).step();
  Statement asked(*this, "PRAGMA " + pragma);
  const std::string now = asked.step() ? asked.text(0) : std::string{};
  if (std::find(accepted.begin(), accepted.end(), now) != accepted.end()) return;
  throw Error(ErrorKind::store,
              "SQLite does not obey here: " + pragma + " is \"" + now + "\" where it should be " + value,
              path_.string(), "name a store on another disk with --store PATH");
}

std::int64_t Database::number(std::string_view sql) const {
  Statement statement(*this, sql);
  return statement.step() ? statement.integer(0) : 0;
}

void Database::fail(int code) const {
  const bool from_system = (code & 0xFF) == SQLITE_IOERR || (code & 0xFF) == SQLITE_CANTOPEN;
  const int system_error = handle_ && from_system ? sqlite3_system_errno(handle_.get()) : 0;
  const Advice advice = advice_for(code, system_error, handle_ ? sqlite3_errmsg(handle_.get()) : "");
  // What trying again cannot mend: the file is no longer the store that was opened.
  const int kind = code & 0xFF;
  if (kind == SQLITE_CORRUPT || kind == SQLITE_NOTADB || kind == SQLITE_ERROR || kind == SQLITE_CONSTRAINT ||
      code == SQLITE_IOERR_SHORT_READ || code == SQLITE_READONLY_DBMOVED)
    throw StoreLost(advice.what, path_.string(), advice.next);
  throw Error(ErrorKind::store, advice.what, path_.string(), advice.next);
}

Transaction::Transaction(const Database& database) : database_(database) { database.run("BEGIN IMMEDIATE"); }

Transaction::~Transaction() {
  // A full disk makes SQLite roll back by itself; a second ROLLBACK would only be an error.
  if (sqlite3_get_autocommit(database_.handle()) == 0)
    sqlite3_exec(database_.handle(), "ROLLBACK", nullptr, nullptr, nullptr);
}

void Transaction::commit() { database_.run("COMMIT"); }

Snapshot::Snapshot(const Database& database) : database_(database) { database.run("BEGIN"); }
Snapshot::~Snapshot() {
  if (sqlite3_get_autocommit(database_.handle()) == 0)
    sqlite3_exec(database_.handle(), "ROLLBACK", nullptr, nullptr, nullptr);
}

}  // namespace switchwright
