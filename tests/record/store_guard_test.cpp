// Who may write a record, and what happens to a store behind the back of the one who writes it.
#include <doctest/doctest.h>
#include <sqlite3.h>
#include <sys/wait.h>
#include <unistd.h>

#include <filesystem>
#include <fstream>
#include <functional>
#include <nlohmann/json.hpp>

#include "example.hpp"
#include "record/link_journal.hpp"
#include "switchwright/core/durable_file.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/record/record_json.hpp"
#include "switchwright/record/rescue.hpp"

using namespace switchwright;
using namespace example;
namespace fs = std::filesystem;

namespace {

void meddle(const fs::path& path, const std::string& sql) {
  sqlite3* handle = nullptr;
  REQUIRE(sqlite3_open(path.c_str(), &handle) == SQLITE_OK);
  char* message = nullptr;
  const int code = sqlite3_exec(handle, sql.c_str(), nullptr, nullptr, &message);
  INFO((message == nullptr ? "" : message));
  CHECK(code == SQLITE_OK);
  sqlite3_free(message);
  sqlite3_close(handle);
}

Error error_of(const std::function<void()>& act) {
  try {
    act();
  } catch (const Error& error) {
    return error;
  }
  FAIL("no error came");
  throw std::logic_error("unreachable");
}

bool is_lost(const std::function<void()>& act) {
  try {
    act();
  } catch (const StoreLost&) {
    return true;
  } catch (const Error& error) {
    MESSAGE(std::string(error.what()));
  }
  return false;
}

/// As another process would do it: the locks of SQLite belong to the process, and closing a file gives them back.
void elsewhere(const std::function<void()>& act) {
  const pid_t child = ::fork();
  if (child == 0) {
    try {
      act();
    } catch (const std::exception& error) {
      std::fprintf(stderr, "child: %s\n", error.what());
      ::_exit(1);
    }
    ::_exit(0);
  }
  int status = 1;
  ::waitpid(child, &status, 0);
  REQUIRE(status == 0);
}

}  // namespace

TEST_CASE("a record that somebody writes cannot be taken up, and can when that one is gone") {
  const Folder folder;
  const auto path = folder / "records.sqlite";
  std::string id;
  {
    Store first(path);
    id = first.begin(header());
    first.append(id, step_batch(1, 1.0, 0.3));
    Store second(path);
    CHECK(second.is_taken(id));
    CHECK_FALSE(first.is_taken(id));
    const Error refused = error_of([&] { second.take_up(id); });
    CHECK(refused.kind() == ErrorKind::store);
    CHECK(refused.what_happened().find("is being written") != std::string::npos);
    CHECK(error_of([&] { second.append(id, closing_batch()); }).what_happened() == refused.what_happened());
    CHECK_FALSE(second.load(id).verdict);
  }
  Store later(path);
  CHECK_FALSE(later.is_taken(id));
  later.take_up(id);
  later.append(id, closing_batch());
  CHECK(later.check_chain(id).empty());
}

TEST_CASE("a batch of somebody else stops the writer even where no lock kept him out") {
  const Folder folder;
  const auto path = folder / "records.sqlite";
  Store store(path);
  const std::string id = store.begin(header());
  store.append(id, step_batch(1, 1.0, 0.3));
  fs::remove(path.string() + "-lock");  // the lock is gone: a second writer gets in
  Store other(path);
  other.append(id, step_batch(2, 2.0, 99.0));
  CHECK(is_lost([&] { store.append(id, closing_batch()); }));
  CHECK(is_lost([&] { store.confirm(id); }));
  CHECK_FALSE(store.load(id).verdict);
}

TEST_CASE(
    "whatever is done to the files of a store in use shows at the next batch, and the record can be put aside whole") {
  struct Row {
    const char* what;
    std::function<void(const fs::path&)> act;
  };
  const auto other_store = [](const fs::path& path) {
    const fs::path other = path.parent_path() / "other.sqlite";
    Store store(other);
    write_whole_record(store);
    return other;
  };
  const Row rows[] = {
      {"deleted", [](const fs::path& path) { fs::remove(path); }},
      {"deleted with its log",
       [](const fs::path& path) {
         for (const char* end : {"", "-wal", "-shm"}) fs::remove(path.string() + end);
       }},
      {"its log alone deleted", [](const fs::path& path) { fs::remove(path.string() + "-wal"); }},
      {"moved away", [](const fs::path& path) { fs::rename(path, path.string() + ".old"); }},
      {"replaced by another store", [&](const fs::path& path) { fs::rename(other_store(path), path); }},
      {"cut to nothing", [](const fs::path& path) { fs::resize_file(path, 0); }},
      {"cut short", [](const fs::path& path) { fs::resize_file(path, fs::file_size(path) / 2); }},
      {"overwritten in place by another store",
       [&](const fs::path& path) {
         std::ifstream in(other_store(path), std::ios::binary);
         std::ofstream out(path, std::ios::binary | std::ios::in | std::ios::out);
         out << in.rdbuf();
       }},
      {"its last batch deleted", [](const fs::path& path) { meddle(path, "DELETE FROM batch WHERE seq = 3"); }},
      {"the record deleted", [](const fs::path& path) { meddle(path, "DELETE FROM batch; DELETE FROM record"); }},
  };
  for (const Row& row : rows) {
    CAPTURE(row.what);
    const Folder folder;
    const auto path = folder / "records.sqlite";
    std::string id;
    {
      { Store made(path); }  // what is in the file is in the file, not in the log alone
      Store store(path);
      id = store.begin(header());
      store.append(id, step_batch(1, 1.0, 0.3));
      store.append(id, step_batch(2, 2.0, 0.4));
      store.confirm(id);
      elsewhere([&] { row.act(path); });
      CHECK(is_lost([&] { store.append(id, closing_batch()); }));
      const Rescued rescued = write_rescue_file(store, id, closing_batch(), true);
      CHECK(rescued.complete);
      fs::rename(rescued.file, folder / "rescue.json");
    }
    Store fresh(folder / "fresh.sqlite");
    CHECK(restore_rescue_file(fresh, folder / "rescue.json").find("4 batches are back") != std::string::npos);
    const Record record = fresh.load(id, true);
    CHECK(record.chain_fault.empty());
    CHECK(record.readings.size() == 6);
    CHECK(record.verdict->outcome == Outcome::fail);
  }
}

TEST_CASE("a rescue file goes back only to the record that it came from") {
  const Folder folder;
  Store store(folder / "records.sqlite");
  const std::string id = store.begin(header());
  store.append(id, step_batch(1, 1.0, 0.3));
  const Rescued rescued = write_rescue_file(store, id, closing_batch(), false);
  fs::copy_file(rescued.file, folder / "again.json");
  store.append(id, step_batch(2, 2.0, 0.3));  // the work went on without it
  CHECK(error_of([&] { restore_rescue_file(store, rescued.file); }).what_happened().find("another way") !=
        std::string::npos);
  CHECK_FALSE(store.load(id).verdict);
  Store empty(folder / "empty.sqlite");
  CHECK(error_of([&] { restore_rescue_file(empty, folder / "again.json"); }).kind() == ErrorKind::store);
  std::ofstream(folder / "letter.json") << "Dear Sir";
  CHECK(error_of([&] { restore_rescue_file(store, folder / "letter.json"); }).kind() == ErrorKind::usage);
}

TEST_CASE("what is shown is what was written, and a change to the store is told with it") {
  struct Row {
    const char* sql;
    bool in_list;  ///< the list looks at header, joints, end and verdict; the record at everything
  };
  const Row rows[] = {
      {"UPDATE verdict SET outcome = 'pass'", true},
      {"DELETE FROM verdict", true},
      {"UPDATE record SET serial = '0002'", true},
      {"UPDATE finding SET outcome = 'pass', kind = NULL, severity = NULL", false},
      {"UPDATE indication SET value = 0.0", false},
      {"UPDATE reading SET value = 0.0", false},
      {"UPDATE acknowledgement SET who = 'nobody'", false},
      {"UPDATE batch SET canonical = replace(canonical, '\"outcome\":\"fail\"', '\"outcome\":\"pass\"') WHERE seq = 4",
       true},
      {"DELETE FROM batch WHERE seq = 2", true},
  };
  for (const Row& row : rows) {
    CAPTURE(row.sql);
    const Folder folder;
    Store store(folder / "records.sqlite");
    const std::string id = write_whole_record(store);
    CHECK(store.list().front().chain_fault.empty());
    meddle(folder / "records.sqlite", row.sql);
    const Record record = store.load(id);
    CHECK_FALSE(record.chain_fault.empty());
    CHECK(store.list().front().chain_fault.empty() != row.in_list);
    if (std::string(row.sql).find("canonical") == std::string::npos) {
      CHECK(record.header.serial == "0001");
      REQUIRE(record.verdict);
      CHECK(record.verdict->outcome == Outcome::fail);
      CHECK(store.list().front().outcome == "fail");
    }
  }
}

TEST_CASE("a chain that lost its tail is no shorter chain") {
  const Folder folder;
  const auto path = folder / "records.sqlite";
  std::string id;
  {
    Store store(path);
    id = write_whole_record(store);
  }
  // The verdict and everything else of the last batch is taken out, as if it had never been.
  meddle(
      path,
      "DELETE FROM verdict; DELETE FROM finding; DELETE FROM inspection; DELETE FROM remark; DELETE FROM not_measured;"
      "DELETE FROM voltage; DELETE FROM supply; DELETE FROM voltage_not_measured; DELETE FROM ended;"
      "DELETE FROM leads WHERE seq = 4; DELETE FROM batch WHERE seq = 4");
  Store store(path);
  CHECK(store.load(id).chain_fault.find("4 batches were written and 3 are there") != std::string::npos);
  CHECK_FALSE(store.list().front().chain_fault.empty());
  CHECK(error_of([&] { store.take_up(id); }).kind() == ErrorKind::store);
  // And a record that was taken out whole is still missed.
  meddle(path,
         "DELETE FROM record; DELETE FROM batch; DELETE FROM step; DELETE FROM reading; DELETE FROM indication;"
         "DELETE FROM leads; DELETE FROM event; DELETE FROM acknowledgement; DELETE FROM meter");
  REQUIRE(store.list().size() == 1);
  CHECK_FALSE(store.list().front().chain_fault.empty());
}

TEST_CASE("a check of the file finds an index that tells something else than its table") {
  const Folder folder;
  const auto path = folder / "records.sqlite";
  std::int64_t root = 0;
  {
    Store store(path);
    write_whole_record(store);
    CHECK(store.check_file().empty());
  }
  {
    sqlite3* handle = nullptr;
    REQUIRE(sqlite3_open(path.c_str(), &handle) == SQLITE_OK);
    sqlite3_stmt* select = nullptr;
    sqlite3_prepare_v2(handle, "SELECT rootpage FROM sqlite_schema WHERE name = 'record_by_start'", -1, &select,
                       nullptr);
    REQUIRE(sqlite3_step(select) == SQLITE_ROW);
    root = sqlite3_column_int64(select, 0);
    sqlite3_finalize(select);
    sqlite3_exec(handle, "PRAGMA wal_checkpoint(TRUNCATE)", nullptr, nullptr, nullptr);
    sqlite3_close(handle);
  }
  std::fstream file(path, std::ios::in | std::ios::out | std::ios::binary);
  std::string page(4096, '\0');
  file.seekg((root - 1) * 4096);
  file.read(page.data(), 4096);
  const auto at = page.find("2026-03-01");
  REQUIRE(at != std::string::npos);
  file.seekp((root - 1) * 4096 + static_cast<std::int64_t>(at));
  file << "2027";
  file.close();
  CHECK_FALSE(Store(path).check_file().empty());
}

TEST_CASE("a trigger of another program is told and does nothing") {
  const Folder folder;
  const auto path = folder / "records.sqlite";
  { Store store(path); }
  meddle(path, "CREATE TRIGGER kind_hand AFTER INSERT ON verdict BEGIN UPDATE verdict SET outcome = 'pass'; END");
  Store store(path);
  const std::string id = write_whole_record(store);
  CHECK(store.load(id).chain_fault.empty());
  REQUIRE(store.check_file().size() == 1);
  CHECK(store.check_file().front().find("kind_hand") != std::string::npos);
}

TEST_CASE("a journal gives back every line in order, few or many") {
  for (const int lines : {0, 3, 60'000}) {
    LinkJournal journal;
    for (int i = 0; i < lines; ++i) journal.add("line " + std::to_string(i) + std::string(40, '.'));
    int next = 0;
    bool in_order = true;
    CHECK(journal.each([&](std::string_view line) {
      in_order = in_order && line.starts_with("line " + std::to_string(next++) + ".");
    }));
    CHECK(in_order);
    CHECK(next == lines);
  }
}

TEST_CASE("a moment beyond what a clock can hold is refused") {
  for (const char* text :
       {"2263-01-01T00:00:00.000Z", "2262-04-12", "9999-12-31T23:59:59Z", "1677-09-20", "0000-01-01"}) {
    CAPTURE(text);
    CHECK(error_of([&] { parse_iso8601(text); }).kind() == ErrorKind::usage);
  }
  CHECK(iso8601(parse_iso8601("2261-12-31T23:59:59.000Z")) == "2261-12-31T23:59:59.000Z");
  for (const double seconds : {1e300, -1e300, 9.3e9, std::numeric_limits<double>::quiet_NaN()})
    CHECK(error_of([&] { from_seconds(seconds); }).kind() == ErrorKind::usage);
}

TEST_CASE("a number that is no whole number is refused where a record needs one") {
  for (const char* bad : {R"({"steps":[{"step":1e300,"at":"2026-03-01T00:00:00.000Z"}]})",
                          R"({"steps":[{"step":1.5,"at":"2026-03-01T00:00:00.000Z"}]})",
                          R"({"steps":[{"step":"1","at":"2026-03-01T00:00:00.000Z"}]})"}) {
    CAPTURE(bad);
    Record record;
    CHECK_THROWS(add_batch_json(nlohmann::json::parse(bad), Wall{}, record));
  }
}

TEST_CASE("a durable file is there whole or not at all, and a device stays a device") {
  const Folder folder;
  const std::string path = (folder / "report.txt").string();
  write_file_durably(path, "old");
  {
    DurableFile half(path);
    half.write("new, but never ke");
  }
  std::ifstream in(path);
  std::string content;
  in >> content;
  CHECK(content == "old");
  CHECK(std::distance(fs::directory_iterator(folder.path()), fs::directory_iterator()) == 1);
  CHECK(error_of([] { write_file_durably("/dev/full", "x"); }).kind() == ErrorKind::store);
  CHECK(fs::is_character_file("/dev/full"));
  CHECK(error_of([&] { require_writable((folder / "no/such/place.txt").string(), "--report"); }).kind() ==
        ErrorKind::usage);
  CHECK(error_of([&] { require_writable(folder.path().string(), "--report"); }).kind() == ErrorKind::usage);
  require_writable((folder / "fine.txt").string(), "--report");
  CHECK_FALSE(fs::exists(folder / "fine.txt"));
}
