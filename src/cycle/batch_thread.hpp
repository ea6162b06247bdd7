// Parsing on one core, figures on the other: batches of samples go through a short queue.
#pragma once

#include <condition_variable>
#include <cstddef>
#include <deque>
#include <exception>
#include <functional>
#include <mutex>
#include <thread>
#include <utility>
#include <vector>

#include "switchwright/cycle/series_file.hpp"

namespace switchwright {

inline constexpr std::size_t most_batches = 32;  ///< on the way, of 1024 samples each: under a megabyte

/// `read` runs on a thread of its own and fills what it is given; `take` runs here, in the same order.
/// @throws what either throws; the other thread has ended by then.
inline void in_two_threads(const std::function<void(SampleSink&)>& read, SampleSink& take) {
  struct Batch {
    std::size_t channel;
    std::vector<Sample> samples;
  };
  struct Queue final : SampleSink {
    std::mutex mutex;
    std::condition_variable changed;
    std::deque<Batch> batches;
    bool ended = false, given_up = false;
    std::exception_ptr failed;
    struct GivenUp {};
    void take(std::size_t channel, std::span<const Sample> samples) override {
      std::unique_lock lock{mutex};
      changed.wait(lock, [this] { return batches.size() < most_batches || given_up; });
      if (given_up) throw GivenUp{};
      batches.push_back({channel, {samples.begin(), samples.end()}});
      if (batches.size() == 1) changed.notify_all();
    }
  } queue;
  std::thread reader{[&] {
    std::exception_ptr failed;
    try {
      read(queue);
    } catch (const Queue::GivenUp&) {
    } catch (...) {
      failed = std::current_exception();
    }
    const std::lock_guard lock{queue.mutex};
    queue.failed = failed;
    queue.ended = true;
    queue.changed.notify_all();
  }};
  std::exception_ptr failed;
  for (;;) {
    std::deque<Batch> some;
    {
      std::unique_lock lock{queue.mutex};
      queue.changed.wait(lock, [&] { return !queue.batches.empty() || queue.ended; });
      some.swap(queue.batches);
      queue.changed.notify_all();
      if (some.empty()) break;
    }
    try {
      for (const Batch& batch : some) take.take(batch.channel, batch.samples);
    } catch (...) {
      failed = std::current_exception();
      const std::lock_guard lock{queue.mutex};
      queue.given_up = true;
      queue.changed.notify_all();
      break;
    }
  }
  reader.join();
  if (failed) std::rethrow_exception(failed);
  if (queue.failed) std::rethrow_exception(queue.failed);
}

}  // namespace switchwright
