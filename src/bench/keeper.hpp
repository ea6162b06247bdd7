// Writing elsewhere: what was measured is handed over and nobody waits for the disk. A store that another program has
// locked, or a disk that takes seconds, delays only the writing; readings go on being taken and stamped as they come.
// This is the one thread of the program beside the loop's: the disk is the one thing that stalls and cannot be polled.
#pragma once

#include <chrono>
#include <condition_variable>
#include <mutex>
#include <optional>
#include <string>
#include <thread>

#include "switchwright/record/store.hpp"

namespace switchwright {

/// Thread rule: hand(), state() and finish() belong to the loop's thread. The Store is the keeper's between hand() and
/// the end of finish(); in between nobody else may touch it.
class Keeper {
 public:
  /// @param longest_s how long a store may refuse before the work is to stop; memory is not a place for hours of work.
  Keeper(Store& store, std::string record_id, double longest_s = 600.0);
  ~Keeper();
  Keeper(const Keeper&) = delete;
  Keeper& operator=(const Keeper&) = delete;

  /// Takes it over; never waits for the disk.
  void hand(Batch batch);

  struct State {
    double behind_s = 0.0;  ///< age of the oldest batch that is not kept yet
    std::string failure;    ///< why the last try failed; empty when none did
    bool lost = false;      ///< the store is gone, or refused for too long: the work has to end
  };
  State state() const;
  /// What a person should know about the store and was not told yet.
  struct News {
    std::string kind;  ///< "store-waiting", "store-failed", "store-lost", "store-again"
    std::string text;
  };
  std::optional<News> news();

  /// Waits until everything is kept and is where it is looked for. @throws Error(store) when it is not, naming the rescue
  /// file that holds what is missing: the last batches, or the whole record of a store that is lost.
  void finish();

 private:
  using Steady = std::chrono::steady_clock;
  void work();
  void try_once(std::unique_lock<std::mutex>& lock);
  [[noreturn]] void put_aside(const Error& why, const Batch& unkept, bool whole);

  Store& store_;
  const std::string record_id_;
  const double longest_s_;
  mutable std::mutex mutex_;
  std::condition_variable changed_;
  Batch waiting_;
  std::optional<Steady::time_point> waiting_since_, writing_since_;
  Steady::time_point next_try_{};
  std::string failure_;
  bool lost_ = false;
  bool paused_ = false;  ///< finish() has the store
  bool over_ = false;
  std::optional<Error> rescued_;
  std::string told_;  ///< the kind of the last news
  std::thread thread_;
};

}  // namespace switchwright
