// What a power cut, a full disk, a file size limit, a lock and a second process do to the store.
#include <doctest/doctest.h>
#include <signal.h>
#include <sqlite3.h>
#include <sys/mount.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

#include <fstream>
#include <functional>

#include "example.hpp"
#include "skip.hpp"
#include "switchwright/core/error.hpp"

using namespace switchwright;
using namespace example;
namespace fs = std::filesystem;

namespace {

/// Runs `act` in a child process; its exit code, or -1 when a signal ended it.
int in_child(const std::function<int()>& act) {
  const pid_t child = ::fork();
  REQUIRE(child >= 0);
  if (child == 0) {
    int code = 99;
    try {
      code = act();
    } catch (const std::exception& error) {
      std::fprintf(stderr, "child: %s\n", error.what());
    }
    ::_exit(code);
  }
  int status = 0;
  ::waitpid(child, &status, 0);
  return WIFEXITED(status) ? WEXITSTATUS(status) : -1;
}

/// A small disk of its own, unmounted on the way out; needs root.
class SmallDisk {
 public:
  explicit SmallDisk(const fs::path& place) : place_(place) {
    fs::create_directory(place);
    mounted_ = ::mount("none", place.c_str(), "tmpfs", 0, "size=1m") == 0;
  }
  ~SmallDisk() {
    if (mounted_) ::umount(place_.c_str());
  }
  SmallDisk(const SmallDisk&) = delete;
  SmallDisk& operator=(const SmallDisk&) = delete;
  bool mounted() const { return mounted_; }
  void make_read_only() { ::mount("none", place_.c_str(), "tmpfs", MS_REMOUNT | MS_RDONLY, "size=1m"); }

 private:
  fs::path place_;
  bool mounted_ = false;
};

/// Every batch of the record is whole: each step has its three readings and its indication.
void check_nothing_half_visible(const Record& record, std::size_t batches) {
  REQUIRE(record.steps.size() == batches);
  REQUIRE(record.indications.size() == batches);
  REQUIRE(record.readings.size() == 3 * batches);
  for (std::size_t i = 0; i < batches; ++i) {
    CHECK(record.steps[i].step == static_cast<int>(i) + 1);
    CHECK(record.indications[i].step == static_cast<int>(i) + 1);
  }
}

}  // namespace

TEST_CASE("a copy of the files at any moment holds everything committed and nothing half") {
  // Files as a power cut leaves them: copied while the store is open, without a checkpoint or a clean close;
  // each copy also with its log cut short, as if the last sectors had never reached the disk.
  const Folder folder;
  Store store(folder / "live.sqlite");
  const std::string id = store.begin(header());
  for (int step = 1; step <= 12; ++step) {
    store.append(id, step_batch(step, step, 0.3));
    for (const std::uintmax_t cut : {0, 1, 2000, 5000}) {
      CAPTURE(step);
      CAPTURE(cut);
      const auto copy = folder / ("copy-" + std::to_string(step) + "-" + std::to_string(cut) + ".sqlite");
      fs::copy_file(folder / "live.sqlite", copy);
      const auto log = copy.string() + "-wal";
      fs::copy_file(folder / "live.sqlite-wal", log);
      const auto size = fs::file_size(log);
      if (cut > 0 && size > cut) fs::resize_file(log, size - cut);
      const Store after(copy);
      const Record record = after.load(id, true);
      // The log may hold stale frames after the last commit, so a short cut need not reach into the last
      // batch.
      const auto kept = record.steps.size();
      CHECK(kept <= static_cast<std::size_t>(step));
      CHECK(kept + 1 >= static_cast<std::size_t>(step));
      if (cut == 0) CHECK(kept == static_cast<std::size_t>(step));
      check_nothing_half_visible(record, kept);
      CHECK(after.check_chain(id).empty());
    }
  }
}

TEST_CASE("a process that is killed while it appends loses nothing that append had returned for") {
  const Folder folder;
  const auto path = folder / "records.sqlite";
  for (int round = 0; round < 3; ++round) {
    int pipe[2];
    REQUIRE(::pipe(pipe) == 0);
    const pid_t child = ::fork();
    if (child == 0) {
      ::close(pipe[0]);
      try {
        Store store(path);
        RecordHeader own = header();
        own.started += std::chrono::hours(round);
        const std::string id = store.begin(own);
        for (int step = 1;; ++step) {
          store.append(id, step_batch(step, step, 0.3));
          const char done = 'x';
          if (::write(pipe[1], &done, 1) != 1) ::_exit(1);
        }
      } catch (const std::exception&) {
        ::_exit(1);
      }
    }
    ::close(pipe[1]);
    char done = 0;
    std::size_t confirmed = 0;
    while (confirmed < 7U + 10U * static_cast<unsigned>(round) && ::read(pipe[0], &done, 1) == 1) ++confirmed;
    ::kill(child, SIGKILL);
    while (::read(pipe[0], &done, 1) == 1) ++confirmed;
    ::close(pipe[0]);
    ::waitpid(child, nullptr, 0);
    Store store(path);
    const std::string id = store.list().front().id;
    const Record record = store.load(id, true);
    CHECK(record.steps.size() >= confirmed);
    CHECK(record.steps.size() <= confirmed + 1);
    check_nothing_half_visible(record, record.steps.size());
    CHECK(store.check_chain(id).empty());
    store.append(id, closing_batch());  // and it can be finished
    CHECK(store.load(id).verdict);
  }
}

TEST_CASE("a file size limit is one clear error and the batch can be appended again") {
  const Folder folder;
  const int code = in_child([&] {
    ::signal(SIGXFSZ, SIG_IGN);
    Store store(folder / "records.sqlite");
    const std::string id = store.begin(header());
    rlimit limit{};
    ::getrlimit(RLIMIT_FSIZE, &limit);
    const rlim_t before = limit.rlim_cur;
    limit.rlim_cur = 300'000;
    ::setrlimit(RLIMIT_FSIZE, &limit);
    int step = 1;
    try {
      for (; step < 10'000; ++step) store.append(id, step_batch(step, step, 0.3));
      return 1;
    } catch (const Error& error) {
      if (error.kind() != ErrorKind::store) return 2;
      if (error.what_next().find("ulimit -f") == std::string::npos) return 3;
    }
    if (store.load(id).steps.size() != static_cast<std::size_t>(step - 1)) return 4;
    limit.rlim_cur = before;
    ::setrlimit(RLIMIT_FSIZE, &limit);
    store.append(id, step_batch(step, step, 0.3));
    if (store.load(id).steps.size() != static_cast<std::size_t>(step)) return 5;
    return store.check_chain(id).empty() ? 0 : 6;
  });
  CHECK(code == 0);
}

TEST_CASE("a full disk is one clear error and the batch can be appended again once there is room") {
  const Folder folder;
  const auto disk = folder / "disk";
  SmallDisk small(disk);
  if (!small.mounted()) {
    test::skip("needs the right to mount a small disk (root)");
    return;
  }
  {
    Store store(disk / "records.sqlite");
    const std::string id = store.begin(header());
    std::ofstream(disk / "ballast") << std::string(300'000, 'x');
    int step = 1;
    bool full = false;
    try {
      for (; step < 10'000; ++step) store.append(id, step_batch(step, step, 0.3));
    } catch (const Error& error) {
      full = true;
      CHECK(error.kind() == ErrorKind::store);
      CHECK(error.what_happened() == "the disk is full, so nothing more can be recorded");
      CHECK(error.where() == (disk / "records.sqlite").string());
    }
    CHECK(full);
    CHECK(store.load(id).steps.size() == static_cast<std::size_t>(step - 1));
    fs::remove(disk / "ballast");
    store.append(id, step_batch(step, step, 0.3));
    check_nothing_half_visible(store.load(id, true), static_cast<std::size_t>(step));
    CHECK(store.check_chain(id).empty());
  }
  small.make_read_only();
  try {
    Store store(disk / "records.sqlite");
    FAIL("a read-only disk was accepted");
  } catch (const Error& error) {
    CHECK(error.kind() == ErrorKind::store);
    CHECK(error.what_next().find("--store PATH") != std::string::npos);
  }
}

TEST_CASE("benches that make one store at the same moment all find it theirs") {
  const Folder folder;
  int refused = 0;
  for (int round = 0; round < 60; ++round) {
    const auto path = folder / ("records" + std::to_string(round) + ".sqlite");
    int gate[2];
    REQUIRE(::pipe(gate) == 0);
    std::vector<pid_t> benches;
    for (int i = 0; i < 6; ++i) {
      const pid_t bench = ::fork();
      REQUIRE(bench >= 0);
      if (bench == 0) {
        ::close(gate[1]);
        char open = 0;
        (void)!::read(gate[0], &open, 1);  // ends for all of them at once
        try {
          Store store(path);
          ::_exit(0);
        } catch (const std::exception& error) {
          std::fprintf(stderr, "bench: %s\n", error.what());
          ::_exit(1);
        }
      }
      benches.push_back(bench);
    }
    ::close(gate[0]);
    ::close(gate[1]);
    for (const pid_t bench : benches) {
      int status = 0;
      ::waitpid(bench, &status, 0);
      refused += !(WIFEXITED(status) && WEXITSTATUS(status) == 0);
    }
  }
  CHECK(refused == 0);
}

TEST_CASE("two processes write and read one store at the same time") {
  const Folder folder;
  const auto path = folder / "records.sqlite";
  const pid_t other = ::fork();
  if (other == 0) {
    try {
      Store store(path);
      RecordHeader own = header();
      own.started += 1h;
      const std::string id = store.begin(own);
      for (int step = 1; step <= 60; ++step) store.append(id, step_batch(step, step, 0.3));
      ::_exit(0);
    } catch (const std::exception& error) {
      std::fprintf(stderr, "the other process: %s\n", error.what());
      ::_exit(1);
    }
  }
  Store store(path);
  const std::string id = store.begin(header());
  for (int step = 1; step <= 60; ++step) {
    store.append(id, step_batch(step, step, 0.3));
    for (const auto& summary : store.list()) {
      const Record record = store.load(summary.id, true);
      check_nothing_half_visible(record, record.steps.size());
    }
  }
  int status = 1;
  ::waitpid(other, &status, 0);
  CHECK(status == 0);
  CHECK(store.list().size() == 2);
  for (const auto& summary : store.list()) {
    CHECK(store.load(summary.id).steps.size() == 60);
    CHECK(store.check_chain(summary.id).empty());
  }
}

TEST_CASE("a store that another program keeps locked is one clear error") {
  const Folder folder;
  Store store(folder / "records.sqlite", 50);
  const std::string id = store.begin(header());
  sqlite3* other = nullptr;
  REQUIRE(sqlite3_open((folder / "records.sqlite").c_str(), &other) == SQLITE_OK);
  REQUIRE(sqlite3_exec(other, "BEGIN IMMEDIATE", nullptr, nullptr, nullptr) == SQLITE_OK);
  try {
    store.append(id, step_batch(1, 1.0, 0.3));
    FAIL("the lock was ignored");
  } catch (const Error& error) {
    CHECK(error.kind() == ErrorKind::store);
    CHECK(error.what_happened() == "another program has kept the record store locked for too long");
  }
  sqlite3_exec(other, "ROLLBACK", nullptr, nullptr, nullptr);
  sqlite3_close(other);
  store.append(id, step_batch(1, 1.0, 0.3));
  CHECK(store.load(id).steps.size() == 1);
}
