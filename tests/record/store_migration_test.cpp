// Stores that an earlier version wrote are brought forward, whole, also when the process is killed while it does so.
#include <doctest/doctest.h>
#include <signal.h>
#include <sqlite3.h>
#include <sys/wait.h>
#include <unistd.h>

#include <chrono>
#include <cstdlib>
#include <filesystem>
#include <random>
#include <thread>

#include "example.hpp"
#include "switchwright/record/store.hpp"

using namespace switchwright;
using namespace example;
namespace fs = std::filesystem;

namespace {

/// What schemas 2 to 12 added is taken away again: what stays is a store as schema 1 wrote it, with a record from before
/// there were explanations.
constexpr const char* back_to_schema_1 =
    "ALTER TABLE record DROP COLUMN claim_order; ALTER TABLE record DROP COLUMN appliance; ALTER TABLE record DROP COLUMN "
    "appliance_serial; ALTER TABLE record DROP COLUMN date_code; ALTER TABLE record DROP COLUMN supplier; ALTER TABLE record "
    "DROP COLUMN supplier_lot; ALTER TABLE record DROP COLUMN customer_remark; ALTER TABLE record DROP COLUMN utc_offset_min; "
    "ALTER TABLE record DROP COLUMN zone;"
    "DROP TABLE lot; DROP TABLE lot_unit; DROP TABLE bench_check; DROP TABLE lot_decision;"
    "DROP TABLE chain_end; DROP TABLE store_identity; DROP VIEW deviation; DROP INDEX record_by_start; DROP INDEX record_by_serial; DROP TABLE explanation; DROP TABLE left_out;"
    "DROP TABLE voltage; DROP TABLE supply; DROP TABLE voltage_not_measured; DROP TABLE trace; DROP TABLE trace_channel; DROP TABLE sample; DROP TABLE trace_result;"
    "ALTER TABLE step DROP COLUMN placement; ALTER TABLE indication DROP COLUMN placement; ALTER TABLE event DROP COLUMN "
    "placement;"
    "ALTER TABLE indication DROP COLUMN spread; ALTER TABLE leads DROP COLUMN spread; ALTER TABLE finding DROP COLUMN spread;"
    "ALTER TABLE finding DROP COLUMN visits; ALTER TABLE record DROP COLUMN stated_range; ALTER TABLE record DROP COLUMN "
    "ambient_c;"
    "DROP TABLE stated; DROP TABLE stated_finding; ALTER TABLE record DROP COLUMN require; ALTER TABLE verdict DROP COLUMN "
    "scope; ALTER TABLE verdict DROP COLUMN required; ALTER TABLE finding DROP COLUMN continuity;"
    "ALTER TABLE record DROP COLUMN plan; ALTER TABLE verdict DROP COLUMN plan; ALTER TABLE verdict DROP COLUMN assumed;"
    "ALTER TABLE verdict DROP COLUMN diagnosis; ALTER TABLE verdict DROP COLUMN next_position;"
    "ALTER TABLE verdict DROP COLUMN next_first; ALTER TABLE verdict DROP COLUMN next_second;"
    "ALTER TABLE verdict DROP COLUMN next_bits; PRAGMA user_version=1";

void with_another_program(const fs::path& path, const char* sql) {
  sqlite3* handle = nullptr;
  REQUIRE(sqlite3_open(path.c_str(), &handle) == SQLITE_OK);
  char* message = nullptr;
  const int code = sqlite3_exec(handle, sql, nullptr, nullptr, &message);
  INFO((message == nullptr ? "" : message));
  CHECK(code == SQLITE_OK);
  sqlite3_free(message);
  sqlite3_close(handle);
}

long number(const fs::path& path, const char* sql) {
  sqlite3* handle = nullptr;
  REQUIRE(sqlite3_open(path.c_str(), &handle) == SQLITE_OK);
  sqlite3_stmt* asked = nullptr;
  REQUIRE(sqlite3_prepare_v2(handle, sql, -1, &asked, nullptr) == SQLITE_OK);
  const long found = sqlite3_step(asked) == SQLITE_ROW ? static_cast<long>(sqlite3_column_int64(asked, 0)) : -1;
  sqlite3_finalize(asked);
  sqlite3_close(handle);
  return found;
}

/// A store of schema 1 with one record of so many steps; the record's id.
std::string old_store(const fs::path& path, int steps) {
  std::string id;
  {
    Store store(path);
    id = store.begin(header());
    for (int step = 1; step <= steps; ++step) store.append(id, step_batch(step, 4.0 + step, 0.3));
    Batch last = closing_batch();  // voltages came with schema 3
    last.verdict->voltages.clear();
    last.verdict->voltages_not_measured.clear();
    last.verdict->supply.clear();
    last.verdict->scope = {};
    last.verdict->required.clear();
    last.verdict->stated.clear();
    store.append(id, last);
  }
  with_another_program(path, back_to_schema_1);
  return id;
}

}  // namespace

TEST_CASE("a store of schema 1 is migrated and what it holds stays whole") {
  const Folder folder;
  const std::string id = old_store(folder / "records.sqlite", 1);
  Store store(folder / "records.sqlite");
  CHECK(store.check_chain(id).empty());
  CHECK_FALSE(store.load(id).verdict->diagnosis);
  with_another_program(folder / "records.sqlite", "SELECT sentence FROM deviation");
}

TEST_CASE("a migration that is killed at any instant is gone on with, and nothing of the record is lost") {
  const Folder folder;
  constexpr int steps = 40;
  const std::string id = old_store(folder / "old.sqlite", steps);
  const auto from = std::chrono::steady_clock::now();
  fs::copy_file(folder / "old.sqlite", folder / "first.sqlite");
  { const Store store(folder / "first.sqlite"); }
  const auto took = std::chrono::duration_cast<std::chrono::microseconds>(std::chrono::steady_clock::now() - from);
  const int newest = static_cast<int>(number(folder / "first.sqlite", "PRAGMA user_version"));
  CHECK(newest > 1);

  const char* wanted = std::getenv("SWITCHWRIGHT_KILLS");
  const int kills = wanted != nullptr ? std::atoi(wanted) : 20;
  std::mt19937 random(18);
  int met = 0;
  for (int kill = 0; kill < kills; ++kill) {
    const fs::path path = folder / ("killed-" + std::to_string(kill) + ".sqlite");
    fs::copy_file(folder / "old.sqlite", path);
    const pid_t child = ::fork();
    REQUIRE(child >= 0);
    if (child == 0) {
      try {
        const Store store(path);
      } catch (const std::exception&) {
        ::_exit(1);
      }
      ::_exit(0);
    }
    // The instant is the point of the test: there is no event to wait for.
    std::this_thread::sleep_for(std::chrono::microseconds(random() % static_cast<unsigned>(took.count() + 1)));
    ::kill(child, SIGKILL);
    int status = 0;
    ::waitpid(child, &status, 0);
    met += WIFSIGNALED(status) ? 1 : 0;
    if (WIFEXITED(status)) CHECK(WEXITSTATUS(status) == 0);
    CAPTURE(number(path, "PRAGMA user_version"));
    const Store store(path);
    CHECK(store.check_chain(id).empty());
    CHECK(store.load(id, true).steps.size() == steps + closing_batch().steps.size());
    CHECK(number(path, "PRAGMA user_version") == newest);
  }
  CHECK(met > 0);
}
