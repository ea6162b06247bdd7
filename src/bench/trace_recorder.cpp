#include <fmt/format.h>

#include <condition_variable>
#include <iterator>
#include <mutex>
#include <thread>
#include <utility>

#include "bench/keeping.hpp"
#include "switchwright/bench/trace_session.hpp"
#include "switchwright/core/error.hpp"

namespace switchwright {

namespace {

template <class Row>
void follow(std::vector<Row>& rows, std::vector<Row>&& more) {
  rows.insert(rows.end(), std::make_move_iterator(more.begin()), std::make_move_iterator(more.end()));
}

/// `later` behind `batch`: as if they had been one. A trace has no other rows than these.
void join(Batch& batch, Batch&& later) {
  follow(batch.events, std::move(later.events));
  follow(batch.acknowledgements, std::move(later.acknowledgements));
  follow(batch.channels, std::move(later.channels));
  follow(batch.samples, std::move(later.samples));
  follow(batch.results, std::move(later.results));
  if (later.trace) batch.trace = std::move(later.trace);
  if (later.verdict) batch.verdict = std::move(later.verdict);
  if (later.ended) batch.ended = later.ended;
}

}  // namespace

/// The one place beside the loop: a disk that is slow or a store that is locked keeps this thread waiting, and not the
/// stamps of the samples that come meanwhile. It alone uses the store until the recorder is closed.
class TraceRecorder::Writer {
 public:
  Writer(Store& store, std::string record_id) : store_(store), record_id_(std::move(record_id)), thread_([this] { run(); }) {}
  ~Writer() { stop(); }
  Writer(const Writer&) = delete;
  Writer& operator=(const Writer&) = delete;

  void put(Batch&& batch) {
    {
      const std::lock_guard lock{mutex_};
      join(waiting_, std::move(batch));
    }
    wake_.notify_one();
  }
  /// Why the last try failed; empty when it did not.
  std::string trouble() {
    const std::lock_guard lock{mutex_};
    return trouble_;
  }
  /// Ends the thread. @return what it could not write, or had not yet.
  Batch stop() {
    {
      const std::lock_guard lock{mutex_};
      stopping_ = true;
    }
    wake_.notify_one();
    if (thread_.joinable()) thread_.join();
    return std::exchange(waiting_, {});
  }

 private:
  void run() {
    std::unique_lock lock{mutex_};
    while (!stopping_) {
      // After a failure once more in a while; else as soon as there is something.
      if (!trouble_.empty())
        wake_.wait_for(lock, std::chrono::milliseconds{200}, [this] { return stopping_; });
      else
        wake_.wait(lock, [this] { return stopping_ || !waiting_.empty(); });
      if (stopping_ || waiting_.empty()) continue;
      Batch batch = std::exchange(waiting_, {});
      lock.unlock();
      const std::string trouble = write(batch);
      lock.lock();
      trouble_ = trouble;
      if (trouble.empty()) continue;
      join(batch, std::exchange(waiting_, {}));
      waiting_ = std::move(batch);
    }
  }

  /// @return why not; empty when it is kept
  std::string write(const Batch& batch) {
    try {
      store_.append(record_id_, batch);
      return {};
    } catch (const std::exception& error) {
      return error.what();
    }
  }

  Store& store_;
  const std::string record_id_;
  std::mutex mutex_;
  std::condition_variable wake_;
  Batch waiting_;        ///< guarded by mutex_, as are the next two
  std::string trouble_;
  bool stopping_ = false;
  std::thread thread_;   ///< last: it uses all of the above
};

TraceRecorder::TraceRecorder(Store& store, std::string record_id, TraceStream& events)
    : store_(store), record_id_(std::move(record_id)), events_(events), writer_(std::make_unique<Writer>(store, record_id_)) {
  events_.subscribe([this](const TraceEvent& event, Instant at) { on(event, at); });
}

TraceRecorder::~TraceRecorder() = default;

void TraceRecorder::on(const TraceEvent& event, Instant at) {
  bool now = false;
  std::visit(
      Overloaded{
          [&](const TraceOpened& e) {
            batch_.trace = e.setup;
            batch_.channels = e.channels;
          },
          [&](const TraceAcknowledged& e) {
            batch_.acknowledgements.push_back(e.acknowledgement);
            now = true;
          },
          [&](const ChannelKnown& e) { batch_.channels.push_back(e.channel); },
          [&](const SampleTaken& e) { batch_.samples.push_back(e.sample); },
          [](const EdgeSeen&) {},
          [](const CycleSeen&) {},
          [](const Reconsidered&) {},
          [&](const TraceLink& e) {
            batch_.events.push_back({at.wall, "link-" + std::string{word_for(e.change.state)},
                                     e.name + (e.change.detail.empty() ? "" : ": " + e.change.detail)});
            now = true;
          },
          [&](const TraceNote& e) {
            if (e.kind != "store-failed") batch_.events.push_back({at.wall, e.kind, e.text});
          },
          [&](const TraceEnded& e) {
            batch_.events.push_back({at.wall, "ended-" + e.kind, e.text});
            batch_.ended = at.wall;
            now = true;
          },
          [&](const TraceJudged& e) {
            batch_.results = e.results;
            batch_.verdict = e.verdict;
            now = true;
          },
      },
      event);
  if (now)
    flush(at);
  else
    tick(at);
}

void TraceRecorder::tick(Instant at) {
  if (writer_) say(writer_->trouble(), at);
  if (seconds_between(last_write_, at.monotonic) >= 0.9) flush(at);
}

void TraceRecorder::flush(Instant at) {
  last_write_ = at.monotonic;
  if (writer_ && !batch_.empty()) writer_->put(std::exchange(batch_, {}));
}

void TraceRecorder::say(const std::string& trouble, Instant at) {
  if (trouble.empty() == !failing_) return;
  failing_ = !trouble.empty();
  if (failing_)
    events_.emit(TraceNote{"store-failed", trouble + ". Nothing is lost yet: what was measured is held in memory and "
                                                     "tried again."},
                 at);
  else
    events_.emit(TraceNote{"store-again", "The record store takes data again; nothing was lost."}, at);
}

void TraceRecorder::close() {
  if (writer_) {
    Batch rest = writer_->stop();
    writer_.reset();
    join(rest, std::exchange(batch_, {}));
    batch_ = std::move(rest);
  }
  append_or_rescue(store_, record_id_, batch_);
}

}  // namespace switchwright
