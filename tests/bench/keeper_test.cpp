// Writing that waits elsewhere: a locked store, a store that is gone, and what is told of it.
#include "bench/keeper.hpp"

#include <doctest/doctest.h>
#include <sqlite3.h>

#include <chrono>
#include <filesystem>
#include <functional>

#include "record/example.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/record/rescue.hpp"

using namespace switchwright;
using namespace example;
namespace fs = std::filesystem;

namespace {

/// Another program that holds the store.
class Lock {
 public:
  explicit Lock(const fs::path& path) {
    REQUIRE(sqlite3_open(path.c_str(), &handle_) == SQLITE_OK);
    REQUIRE(sqlite3_exec(handle_, "BEGIN IMMEDIATE", nullptr, nullptr, nullptr) == SQLITE_OK);
  }
  ~Lock() { release(); }
  void release() {
    if (handle_ == nullptr) return;
    sqlite3_exec(handle_, "ROLLBACK", nullptr, nullptr, nullptr);
    sqlite3_close(handle_);
    handle_ = nullptr;
  }

 private:
  sqlite3* handle_ = nullptr;
};

/// Waits for what another thread does, at most ten seconds.
bool comes(const std::function<bool()>& condition) {
  const auto end = std::chrono::steady_clock::now() + 10s;
  while (!condition())
    if (std::chrono::steady_clock::now() > end) return false;
  return true;
}

}  // namespace

TEST_CASE("handing over never waits for a locked store, and nothing of it is lost") {
  const Folder folder;
  const auto path = folder / "records.sqlite";
  Store store(path, 2000);
  const std::string id = store.begin(header());
  Keeper keeper(store, id);
  Lock lock(path);
  const auto before = std::chrono::steady_clock::now();
  for (int step = 1; step <= 20; ++step) keeper.hand(step_batch(step, step, 0.3));
  CHECK(std::chrono::steady_clock::now() - before < 1500ms);  // less than one wait for the lock
  CHECK(comes([&] { return !keeper.state().failure.empty(); }));
  REQUIRE(comes([&] {
    const auto news = keeper.news();
    return news && news->kind == "store-failed";
  }));
  CHECK_FALSE(keeper.news());  // once is enough
  lock.release();
  CHECK(comes([&] {
    const auto news = keeper.news();
    return news && news->kind == "store-again";
  }));
  keeper.finish();
  const Record record = store.load(id, true);
  CHECK(record.chain_fault.empty());
  REQUIRE(record.steps.size() == 20);
  for (int step = 1; step <= 20; ++step) CHECK(record.steps[static_cast<std::size_t>(step - 1)].step == step);
}

TEST_CASE("a store that refuses for too long ends the work, and what it lacks is put aside") {
  const Folder folder;
  const auto path = folder / "records.sqlite";
  Store store(path, 10);
  const std::string id = store.begin(header());
  Keeper keeper(store, id, 0.2);
  Lock lock(path);
  keeper.hand(step_batch(1, 1.0, 0.3));
  CHECK(comes([&] { return keeper.state().lost; }));
  std::string rescue;
  try {
    keeper.finish();
    FAIL("a locked store took a batch");
  } catch (const Error& error) {
    CHECK(error.kind() == ErrorKind::store);
    rescue = error.what_next().substr(error.what_next().rfind(' ') + 1);
  }
  lock.release();
  REQUIRE(fs::exists(rescue));
  Store again(folder / "again.sqlite");
  CHECK_THROWS_AS(restore_rescue_file(again, rescue), Error);  // it holds the end of the record alone
  {
    Store elsewhere(folder / "elsewhere.sqlite");
    CHECK(elsewhere.list().empty());
  }
}

TEST_CASE("a store that vanished is news at once, and the whole record is put aside") {
  const Folder folder;
  const auto path = folder / "records.sqlite";
  Store store(path);
  const std::string id = store.begin(header());
  Keeper keeper(store, id);
  keeper.hand(step_batch(1, 1.0, 0.3));
  REQUIRE(comes([&] { return keeper.state().behind_s == 0.0; }));
  fs::remove(path);
  keeper.hand(step_batch(2, 2.0, 0.3));
  REQUIRE(comes([&] { return keeper.state().lost; }));
  const auto news = keeper.news();
  REQUIRE(news);
  CHECK(news->kind == "store-lost");
  std::string rescue;
  try {
    keeper.finish();
    FAIL("a store that is gone took a batch");
  } catch (const Error& error) {
    rescue = error.what_next().substr(error.what_next().rfind(' ') + 1);
  }
  Store fresh(folder / "fresh.sqlite");
  restore_rescue_file(fresh, rescue);
  CHECK(fresh.load(id, true).readings.size() == 6);
  CHECK(fresh.load(id).chain_fault.empty());
}

TEST_CASE("a store that vanished after the last batch is noticed when the work ends") {
  const Folder folder;
  const auto path = folder / "records.sqlite";
  Store store(path);
  const std::string id = store.begin(header());
  Keeper keeper(store, id);
  keeper.hand(closing_batch());
  REQUIRE(comes([&] { return keeper.state().behind_s == 0.0; }));
  fs::remove(path);
  CHECK_THROWS_AS(keeper.finish(), Error);
}
