// Views of a running trace: a live screen for a person, lines for a log, JSON Lines for a program.
#pragma once

#include <memory>

#include "switchwright/bench/trace_session.hpp"

namespace switchwright::cli {

class TraceView {
 public:
  virtual ~TraceView() = default;
  virtual void on(const TraceEvent& event, Instant at) = 0;
  virtual void tick() {}
  virtual void key(char) {}  ///< typed at the terminal
};

std::unique_ptr<TraceView> make_trace_json_view();
std::unique_ptr<TraceView> make_trace_line_view();
/// State of each channel with its recent trace, last cycles, running duty, time to go.
std::unique_ptr<TraceView> make_trace_screen_view(const TraceSession& session);

/// The end of a trace in words: figures per channel, then the judgement.
std::string judged_words(const TraceJudged& event);

/// Samples as one row of block characters, `columns` wide: the height of a column is its largest value; a value stands
/// until the next sample, a blank column lies in a gap. A hundred digits of the meter is the least full height, so that
/// the flicker of a dead channel stays flat. Oldest first. The last 8192 samples are kept one by one; of everything
/// before, as many blocks of neighbours with their largest value.
class BlockTrace {
 public:
  void add(double t_s, double value, double resolution);
  /// @param blocks false: plain characters for a terminal without UTF-8.
  std::string row(std::size_t columns, double from_s, double to_s, bool blocks) const;
  double first_s() const { return whole_.empty() ? 0.0 : whole_.front().t_s; }

 private:
  struct Point {
    double t_s = 0.0;
    double value = 0.0;
  };
  static constexpr std::size_t most = 8192;
  std::vector<Point> points_;
  std::vector<Point> whole_;
  std::size_t block_ = 1;     ///< samples in each block of whole_
  std::size_t in_block_ = 0;  ///< in the last one
  double least_top_ = 0.0;
};

}  // namespace switchwright::cli
