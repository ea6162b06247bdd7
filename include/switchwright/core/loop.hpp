// The one thread on which everything that waits takes its turn: meters, hands, signals, timers.
// Thread rule: construct, run and use on one thread; stop() may be called from anywhere.
#pragma once

#include <chrono>
#include <functional>
#include <memory>

namespace switchwright {

class Loop {
 public:
  Loop();
  ~Loop();
  Loop(const Loop&) = delete;
  Loop& operator=(const Loop&) = delete;

  /// Runs until stop() or until nothing is left to wait for. An exception thrown by a callback leaves run().
  void run();
  void stop();
  /// Calls `task` from run(), after what is already queued.
  void post(std::function<void()> task);

  /// A one-shot timer; destroying or cancelling it means the task is not called.
  class Timer {
   public:
    struct Impl;
    Timer();
    explicit Timer(std::shared_ptr<Impl> impl);
    ~Timer();
    Timer(Timer&&) noexcept;
    Timer& operator=(Timer&&) noexcept;
    void cancel();

   private:
    std::shared_ptr<Impl> impl_;
  };
  [[nodiscard]] Timer after(std::chrono::nanoseconds delay, std::function<void()> task);

  struct Impl;
  Impl& impl() { return *impl_; }  ///< for src/core/loop_io.hpp, which hands out the io_context

 private:
  std::unique_ptr<Impl> impl_;
};

}  // namespace switchwright
