#include "bench/keeper.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <utility>

#include "switchwright/record/rescue.hpp"

namespace switchwright {

Keeper::Keeper(Store& store, std::string record_id, double longest_s)
    : store_(store), record_id_(std::move(record_id)), longest_s_(longest_s), thread_([this] { work(); }) {}

Keeper::~Keeper() {
  {
    const std::lock_guard lock(mutex_);
    over_ = true;
  }
  changed_.notify_all();
  thread_.join();
}

void Keeper::hand(Batch batch) {
  if (batch.empty()) return;
  {
    const std::lock_guard lock(mutex_);
    if (!waiting_since_) waiting_since_ = Steady::now();
    waiting_.add(std::move(batch));
  }
  changed_.notify_all();
}

Keeper::State Keeper::state() const {
  const std::lock_guard lock(mutex_);
  State state{0.0, failure_, lost_};
  if (const auto since = writing_since_ ? writing_since_ : waiting_since_)
    state.behind_s = std::chrono::duration<double>(Steady::now() - *since).count();
  state.lost = state.lost || state.behind_s > longest_s_;
  return state;
}

std::optional<Keeper::News> Keeper::news() {
  constexpr double patience_s = 2.0;
  const State now = state();
  const auto tell = [&](const char* kind, const std::string& text) -> std::optional<News> {
    if (told_ == kind) return std::nullopt;
    told_ = kind;
    return News{kind, text};
  };
  if (now.lost) return tell("store-lost", now.failure + ". The work stops; what was measured is put aside in a file.");
  if (!now.failure.empty())
    return tell("store-failed",
                now.failure + ". Nothing is lost yet: what was measured is held in memory and tried again.");
  if (now.behind_s > patience_s)
    return told_ == "store-failed"
               ? std::nullopt
               : tell("store-waiting",
                      "The record store takes its time. Nothing is lost: what is measured is held in memory.");
  if (told_.empty() || told_ == "store-again" || now.behind_s > 0.0) return std::nullopt;
  return tell("store-again", "The record store takes data again; nothing was lost.");
}

void Keeper::work() {
  std::unique_lock lock(mutex_);
  while (!over_) {
    if (paused_ || lost_ || waiting_.empty())
      changed_.wait(lock);
    else if (Steady::now() < next_try_)
      changed_.wait_until(lock, next_try_);
    else
      try_once(lock);
  }
}

void Keeper::try_once(std::unique_lock<std::mutex>& lock) {
  Batch batch = std::exchange(waiting_, {});
  writing_since_ = std::exchange(waiting_since_, std::nullopt);
  lock.unlock();
  std::string failure;
  bool lost = false;
  try {
    store_.append(record_id_, batch);
  } catch (const StoreLost& error) {
    failure = error.what();
    lost = true;
  } catch (const std::exception& error) {
    failure = error.what();
  }
  lock.lock();
  const auto since = std::exchange(writing_since_, std::nullopt);
  failure_ = failure;
  lost_ = lost;
  if (!failure.empty()) {
    batch.add(std::exchange(waiting_, {}));
    waiting_ = std::move(batch);
    waiting_since_ = since;
    next_try_ = Steady::now() + std::chrono::milliseconds{500};
  }
  changed_.notify_all();
}

void Keeper::finish() {
  Batch last;
  {
    std::unique_lock lock(mutex_);
    paused_ = true;
    changed_.wait(lock, [&] { return !writing_since_; });
    last = std::exchange(waiting_, {});
    waiting_since_.reset();
  }
  try {
    if (rescued_ && last.empty()) throw Error(*rescued_);
    try {
      store_.append(record_id_, last);
      last = {};
      store_.confirm(record_id_);
    } catch (const StoreLost& why) {
      put_aside(why, last, true);
    } catch (const Error& why) {
      put_aside(why, last, last.empty());
    }
  } catch (...) {
    const std::lock_guard lock(mutex_);
    paused_ = false;
    throw;
  }
  const std::lock_guard lock(mutex_);
  paused_ = false;
  failure_.clear();
}

void Keeper::put_aside(const Error& why, const Batch& unkept, bool whole) {
  const Rescued rescued = write_rescue_file(store_, record_id_, unkept, whole);
  const std::string what = !whole             ? "what could not be stored is in "
                           : rescued.complete ? "the whole record is in "
                                              : "what could still be had of the record is in ";
  rescued_.emplace(ErrorKind::store, why.what_happened(), why.where(),
                   fmt::format("{}{}; {} run: switchwright records --restore {}", what, rescued.file.string(),
                               whole ? "to bring it into a store" : "make room, then", rescued.file.string()));
  throw Error(*rescued_);
}

}  // namespace switchwright
