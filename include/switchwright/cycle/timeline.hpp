// Time stamps as they come, made into one axis that never runs backward.
//
// Real series repeat stamps (a clock that shows whole seconds), swap two rows, and step back when summer
// time ends. One stamp out of order is dropped. When the following stamps go on from the earlier time, the
// clock was set: the axis goes on, and the true length of that interval is unknown (`clock_step`).
#pragma once

#include <array>
#include <cstdint>

#include "switchwright/cycle/sample.hpp"

namespace switchwright {

struct TimedSample {
  double t_s = 0.0;
  double dt_s = 0.0;  ///< since the sample before; 0 for the first and for a repeated stamp
  double value = 0.0;
  SampleKind kind = SampleKind::finite;
  bool first = false;
  bool clock_step = false;  ///< dt_s is a guess: the clock was set in between
};

class Timeline {
 public:
  /// Calls take(const TimedSample&) for none, one or two samples.
  template <class Take>
  void feed(const Sample& sample, Take&& take) {
    if (started_ && !waiting_ && sample.t_s >= last_raw_s_) {
      pass(sample, false, take);
      return;
    }
    feed_unusual(sample, take);
  }

  std::uint64_t duplicates() const { return duplicates_; }
  std::uint64_t out_of_order() const { return out_of_order_ + (waiting_ ? 1 : 0); }
  std::uint64_t clock_steps() const { return clock_steps_; }

 private:
  template <class Take>
  void feed_unusual(const Sample& sample, Take&& take) {
    if (!(sample.t_s >= -1e300 && sample.t_s <= 1e300)) {
      ++out_of_order_;
    } else if (!started_) {
      started_ = true;
      last_raw_s_ = sample.t_s;
      take(TimedSample{sample.t_s, 0.0, sample.value, sample.kind, true, false});
    } else if (!waiting_) {
      waiting_ = true;
      held_ = sample;
    } else if (sample.t_s >= last_raw_s_ || sample.t_s < held_.t_s) {
      ++out_of_order_;  // the held one was a stray
      waiting_ = sample.t_s < last_raw_s_;
      held_ = sample;
      if (!waiting_) pass(sample, false, take);
    } else {
      ++clock_steps_;
      waiting_ = false;
      offset_s_ += last_raw_s_ + last_dt_s_ - held_.t_s;
      last_raw_s_ = held_.t_s - last_dt_s_;
      pass(held_, true, take);
      pass(sample, false, take);
    }
  }
  template <class Take>
  void pass(const Sample& sample, bool clock_step, Take&& take) {
    const double dt_s = sample.t_s - last_raw_s_;
    last_raw_s_ = sample.t_s;
    if (dt_s > 0.0)
      last_dt_s_ = dt_s;
    else if (!clock_step)
      ++duplicates_;
    take(TimedSample{sample.t_s + offset_s_, dt_s, sample.value, sample.kind, false, clock_step});
  }

  bool started_ = false;
  bool waiting_ = false;
  Sample held_;
  double last_raw_s_ = 0.0;
  double last_dt_s_ = 0.0;
  double offset_s_ = 0.0;
  std::uint64_t duplicates_ = 0;
  std::uint64_t out_of_order_ = 0;
  std::uint64_t clock_steps_ = 0;
};

/// The distribution of positive intervals between samples in 16 bins per octave from about 1e-13 s to 1e13 s.
class Intervals {
 public:
  void add(double dt_s);
  std::uint64_t count() const { return count_; }
  /// Mean of the bin in which quantile p lies, s; 0 when empty.
  double quantile(double p) const;
  /// The longest interval that is still sampling and not a gap, s; 0 when unknown.
  double gap_over_s() const;

 private:
  static constexpr int octaves = 88;
  struct Bin {
    std::uint64_t count = 0;
    double sum_s = 0.0;
  };
  std::array<Bin, octaves * 16> bins_{};
  std::uint64_t count_ = 0;
};

}  // namespace switchwright
