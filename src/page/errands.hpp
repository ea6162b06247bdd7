// What takes time (a report of a long trace, the list of all records) is done on a thread of its own, one errand after the
// other, so that it never stands between a meter and its session. The waiting line is bounded.
#pragma once

#include <condition_variable>
#include <deque>
#include <functional>
#include <memory>
#include <mutex>
#include <thread>

#include "switchwright/core/loop.hpp"
#include "switchwright/page/server.hpp"

namespace switchwright::page {

/// Thread rule: used from the loop's thread; `job` runs on the other one and must own everything it touches.
class Errands {
 public:
  explicit Errands(Loop& loop);
  ~Errands();  ///< what runs is waited for; what waits is dropped
  Errands(const Errands&) = delete;
  Errands& operator=(const Errands&) = delete;

  /// `done` comes from the loop. @returns false when too much is waiting already; nothing is called then.
  bool run(std::function<std::function<void()>()> job);
  /// For a request: too much waiting and everything that is thrown become an answer of their own.
  void answer(std::function<Response()> make, std::function<void(Response)> reply);

 private:
  void work();

  Loop& loop_;
  std::mutex mutex_;
  std::condition_variable wake_;
  std::deque<std::function<std::function<void()>()>> waiting_;
  bool ending_ = false;
  std::shared_ptr<int> here_ = std::make_shared<int>();
  std::thread thread_;
};

}  // namespace switchwright::page
