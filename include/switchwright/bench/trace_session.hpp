// A trace under power: any number of meters, each at its own rate, on one monotonic axis. Readings, link
// changes and the passing of time go in, events come out. Durations come from the monotonic clock alone; a
// wall clock that jumps changes nothing.
#pragma once

#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "switchwright/bench/trace_event.hpp"
#include "switchwright/core/clock.hpp"
#include "switchwright/cycle/analyzer.hpp"
#include "switchwright/judge/cycling.hpp"
#include "switchwright/record/store.hpp"

namespace switchwright {

/// The words that are acknowledged before anything is energised.
std::vector<std::string> energised_cautions();

struct TraceLimits {
  std::optional<double> for_s;
  std::optional<std::uint64_t> cycles;  ///< complete cycles of the load
};

/// Thread rule: lives on the loop's thread. All references must outlive it.
class TraceSession {
 public:
  /// @param zero the moment that the samples' axis starts at: that of header.started.
  /// @param meter_remarks what every reader must know about the meters' calibration: noted in the record, and
  /// remarks of the verdict.
  TraceSession(RecordHeader header, TraceSetup setup, std::vector<TraceChannel> channels, TraceLimits limits,
               Instant zero, const Clock& clock, TraceStream& events, std::vector<std::string> meter_remarks = {});
  ~TraceSession();

  /// The acknowledgement has been given; nothing is taken before start().
  void start(const Acknowledgement& acknowledgement);

  // What comes in.
  void on_reading(int channel, const Reading& reading);
  void on_link(int channel, const LinkChange& change);
  void on_tick();  ///< call a few times a second
  /// As on_tick, from a timer that comes ten times a second: when it comes late, this program stood still, and says so.
  void on_pulse();

  /// By the operator. What was measured is kept and analysed.
  void stop();
  bool ended() const { return ended_; }
  /// It ended as asked: the time was over, the cycles were seen, or it had no limit and was stopped.
  bool complete() const { return complete_; }

  // For a live view.
  struct ChannelView {
    const TraceChannel* channel = nullptr;
    LinkState link = LinkState::open;
    std::string trouble;  ///< refused readings or a lost link, in words
    std::optional<SampleRow> last;
    std::uint64_t samples = 0;
    std::optional<bool> high;  ///< once two levels are known
    bool live = false;         ///< the last sample is above the dead limit of its quantity
    double in_state_s = 0.0;   ///< since the last change
  };
  std::size_t channel_count() const { return channels_.size(); }
  ChannelView view(std::size_t index) const;
  /// Figures so far, provisional.
  CycleSummary so_far(std::size_t index) const;
  double elapsed_s() const;
  /// The dwell of the load that goes on just now is too long already: a sentence with its limit; empty while it is not.
  const std::string& alarm() const { return alarm_; }
  /// On the samples' axis: from when on the dwell of the load that goes on just now is too long; absent where there is no limit.
  std::optional<double> too_long_from_s() const { return too_long_from_s_; }
  /// The limits of the load at this position in one line; empty when there are none.
  const std::string& limits_line() const { return limits_line_; }
  /// What the load should do here: "cycle", "stay live", "stay dead".
  const std::string& load_should() const { return load_should_; }
  /// Time to go, as far as it can be said; it runs down within a cycle too.
  std::optional<double> to_go_s() const;
  std::size_t load_index() const { return load_; }
  const TraceLimits& limits() const { return limits_; }

 private:
  class Ear;
  struct Channel;
  void end(const std::string& kind, const std::string& text, bool complete);
  void expect(const std::vector<NamedChannel>& names);
  static bool is_live(const Channel& channel);
  void watch_dwell();

  RecordHeader header_;
  TraceSetup setup_;
  TraceLimits limits_;
  Instant zero_;
  Monotonic began_{};
  const Clock& clock_;
  TraceStream& events_;
  std::vector<std::string> meter_remarks_;
  std::vector<std::unique_ptr<Channel>> channels_;
  std::size_t load_ = 0;
  bool started_ = false;
  bool ended_ = false;
  bool complete_ = false;
  TimingLimits timing_limits_;
  std::optional<TimingConditions> expected_;  ///< absent: the profile cannot be read
  std::string limits_line_, load_should_, alarm_;
  std::optional<double> too_long_from_s_;
  std::optional<Monotonic> pulsed_;
  double watched_s_ = -1.0;
};

/// Judges a trace that ended: reads it back from the store, emits TraceJudged. @throws Error(store).
TraceJudged judge_trace(const Store& store, const std::string& record_id, TraceAnalysis& analysis);

class Keeper;

/// The listener that keeps everything: no sample older than a second that is not on its way to the disk.
/// Thread rule: lives on the loop's thread. From an event to the end of close() the Store is its own.
class TraceRecorder {
 public:
  TraceRecorder(Store& store, std::string record_id, TraceStream& events);
  ~TraceRecorder();
  void on(const TraceEvent& event, Instant at);
  /// Call a few times a second: samples wait for company only so long, and what the store does is told.
  void tick(Instant at);
  /// The store is gone, or somebody else wrote in the record: the work has to stop.
  bool lost() const;
  /// Writes what is left and looks whether all of it is there. @throws Error(store), naming the rescue file that holds
  /// what is not.
  void close();

 private:
  void flush(Instant at);

  std::unique_ptr<Keeper> keeper_;
  TraceStream& events_;
  Batch batch_;
  Monotonic last_write_{};
};

}  // namespace switchwright
