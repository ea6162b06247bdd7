// A thin owner around SQLite: statements that close themselves, and every result code turned into one
// sentence that says what happened, to which file, and what to do next.
#pragma once

#include <cstdint>
#include <filesystem>
#include <memory>
#include <string>
#include <string_view>
#include <vector>

struct sqlite3;
struct sqlite3_stmt;

namespace switchwright {

class Database;

/// Columns and parameters count from 0 and from 1, as in SQLite.
class Statement {
 public:
  Statement(const Database& database, std::string_view sql);

  void bind(int parameter, std::int64_t value);
  void bind(int parameter, double value);
  void bind(int parameter, std::string_view text);
  void bind_bytes(int parameter, std::string_view bytes);
  /// True while there is a row. @throws Error(store).
  bool step();
  void reset();

  bool is_null(int column) const;
  std::int64_t integer(int column) const;
  double real(int column) const;
  std::string text(int column) const;  ///< also for blobs: the bytes

 private:
  void check(int code);
  struct Finalize {
    void operator()(sqlite3_stmt* statement) const;
  };
  const Database& database_;
  std::unique_ptr<sqlite3_stmt, Finalize> statement_;
};

/// Thread rule: one owner, one thread.
class Database {
 public:
  /// Opens or creates the file. Waits up to `busy_timeout_ms` for another process to finish writing.
  explicit Database(const std::filesystem::path& path, int busy_timeout_ms);

  void run(const char* sql) const;
  /// Sets a pragma and looks at what it is afterwards. @throws Error(store) when it is none of `accepted`.
  void set(const std::string& pragma, const std::string& value, const std::vector<std::string>& accepted) const;
  std::int64_t number(std::string_view sql) const;  ///< the first column of the first row
  [[noreturn]] void fail(int code) const;
  sqlite3* handle() const { return handle_.get(); }
  const std::filesystem::path& path() const { return path_; }

 private:
  struct Close {
    void operator()(sqlite3* handle) const;
  };
  std::filesystem::path path_;
  std::unique_ptr<sqlite3, Close> handle_;
};

/// BEGIN IMMEDIATE; rolls back unless committed.
class Transaction {
 public:
  explicit Transaction(const Database& database);
  ~Transaction();
  Transaction(const Transaction&) = delete;
  Transaction& operator=(const Transaction&) = delete;
  void commit();

 private:
  const Database& database_;
};

/// A read that sees one moment of the store, whatever others write meanwhile.
class Snapshot {
 public:
  explicit Snapshot(const Database& database);
  ~Snapshot();
  Snapshot(const Snapshot&) = delete;
  Snapshot& operator=(const Snapshot&) = delete;

 private:
  const Database& database_;
};

}  // namespace switchwright
