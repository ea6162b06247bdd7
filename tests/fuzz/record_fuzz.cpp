// Rows read back from a store that somebody wrote in, and rescue files: the first byte picks the place, the rest is put there.
// Whatever it is, the record is shown with its fault, or the store refuses in a sentence; and where it is not what was written,
// the check says so.
#include <sqlite3.h>

#include <array>
#include <cstdint>
#include <cstdlib>
#include <fstream>
#include <string>

#include "record/example.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/record/rescue.hpp"
#include "switchwright/record/sha256.hpp"

namespace {

using namespace switchwright;

struct Column {
  const char* table;
  const char* name;
};
constexpr std::array columns{Column{"batch", "canonical"},
                             Column{"batch", "previous"},
                             Column{"record", "started"},
                             Column{"record", "kind"},
                             Column{"record", "profile_text"},
                             Column{"record", "meter_text"},
                             Column{"step", "at"},
                             Column{"step", "kind"},
                             Column{"reading", "state"},
                             Column{"reading", "flags"},
                             Column{"reading", "at"},
                             Column{"reading", "raw"},
                             Column{"indication", "quantity"},
                             Column{"indication", "from_at"},
                             Column{"verdict", "outcome"},
                             Column{"verdict", "scope"},
                             Column{"verdict", "required"},
                             Column{"finding", "position"},
                             Column{"event", "text"},
                             Column{"event", "at"},
                             Column{"stated_finding", "outcome"},
                             Column{"voltage", "bands"},
                             Column{"acknowledgement", "who"},
                             Column{"inspection", "severity"}};

struct Database {
  explicit Database(const std::filesystem::path& path) {
    if (sqlite3_open(path.c_str(), &handle) != SQLITE_OK) std::abort();
    exec("PRAGMA synchronous=OFF");
  }
  ~Database() { sqlite3_close(handle); }
  Database(const Database&) = delete;
  Database& operator=(const Database&) = delete;
  void exec(const std::string& sql) const { (void)sqlite3_exec(handle, sql.c_str(), nullptr, nullptr, nullptr); }
  /// @returns whether a row has it now.
  bool put(const Column& place, const std::string& text, bool as_blob) const {
    const std::string sql = std::string{"UPDATE "} + place.table + " SET " + place.name +
                            " = ?1 WHERE rowid = (SELECT max(rowid) FROM " + place.table + ")";
    sqlite3_stmt* set = nullptr;
    if (sqlite3_prepare_v2(handle, sql.c_str(), -1, &set, nullptr) != SQLITE_OK) return false;
    if (as_blob)
      sqlite3_bind_blob(set, 1, text.data(), static_cast<int>(text.size()), SQLITE_TRANSIENT);
    else
      sqlite3_bind_text(set, 1, text.data(), static_cast<int>(text.size()), SQLITE_TRANSIENT);
    const bool done = sqlite3_step(set) == SQLITE_DONE && sqlite3_changes(handle) > 0;
    sqlite3_finalize(set);
    return done;
  }
  sqlite3* handle = nullptr;
};

template <class Read>
void error_or_answer(Read read) {
  try {
    read();
  } catch (const Error& error) {
    if (error.kind() != ErrorKind::usage && error.kind() != ErrorKind::store) std::abort();
  }
}

/// One store for the whole run; each input is put into a copy of its file.
struct Bench {
  example::Folder folder;
  std::string id;
  Bench() {
    {
      Store store(folder / "whole.sqlite");
      id = example::write_whole_record(store);
    }
    Database(folder / "whole.sqlite").exec("PRAGMA journal_mode=DELETE");
  }
};

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  static Bench& bench = *new Bench;
  if (size == 0) return 0;
  const std::string bytes(reinterpret_cast<const char*>(data) + 1, size - 1);
  namespace fs = std::filesystem;
  const fs::path path = bench.folder / "met.sqlite";
  for (const char* rest : {"", "-wal", "-shm", "-lock"}) fs::remove(path.string() + rest);
  fs::copy_file(bench.folder / "whole.sqlite", path);
  if (data[0] == 255) {  // a rescue file
    const fs::path file = bench.folder / "rescue.jsonl";
    std::ofstream(file, std::ios::binary) << bytes;
    error_or_answer([&] {
      Store store(path);
      (void)restore_rescue_file(store, file);
    });
    fs::remove(file);
    return 0;
  }
  const Column& place = columns[data[0] % columns.size()];
  bool changed = false;
  {
    const Database database(path);
    changed = database.put(place, bytes, place.name == std::string{"raw"} || data[0] >= 128);
    // Somebody who changes a link makes its hash fit, too.
    if (changed && place.name == std::string{"canonical"} && data[0] < 128)
      database.put({"batch", "sha256"}, sha256_hex(bytes), false);
  }
  error_or_answer([&] {
    const Store store(path);
    error_or_answer([&] { (void)store.list(); });
    static unsigned runs = 0;
    if (++runs % 8 == 1) error_or_answer([&] { (void)store.check_file(); });  // takes longer than all the rest
    error_or_answer([&] { (void)store.load(bench.id, true); });
    error_or_answer([&] { (void)store.check_chain(bench.id); });
  });
  (void)changed;
  return 0;
}
