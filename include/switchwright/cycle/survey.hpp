// Pass one: what kind of series is this? Constant memory, any length.
//
// The choice: state levels by histogram mode need the whole series, and a single pass would have to judge the
// first cycles with levels it does not yet know. A file can be read twice, so it is: a Survey finds levels
// and sampling interval, an Analyzer (analyzer.hpp) then finds edges. A live stream cannot: LiveAnalyzer
// joins the two with a bounded buffer, and its figures are provisional until the stored samples are read
// again.
#pragma once

#include <cstdint>
#include <vector>

#include "switchwright/cycle/held.hpp"
#include "switchwright/cycle/histogram.hpp"
#include "switchwright/cycle/levels.hpp"
#include "switchwright/cycle/sample.hpp"
#include "switchwright/cycle/settings.hpp"
#include "switchwright/cycle/timeline.hpp"

namespace switchwright {

struct SurveyResult {
  std::uint64_t samples = 0;  ///< fed, whatever became of them
  std::uint64_t over_range = 0;
  std::uint64_t under_range = 0;
  std::uint64_t duplicates = 0;    ///< stamps equal to the one before (kept, in order)
  std::uint64_t out_of_order = 0;  ///< stray stamps (dropped)
  std::uint64_t clock_steps = 0;
  double first_s = 0.0;
  double last_s = 0.0;
  double interval_s = 0.0;  ///< median of the positive intervals; 0 when unknown
  double update_s = 0.0;    ///< the meter holds its display this long, longer than the interval; 0: it does not
  double gap_over_s = 0.0;  ///< a longer interval is a gap; 0 when unknown
  double min = 0.0;         ///< of the finite values, for pictures only
  double max = 0.0;
  StateLevels levels;
};

/// Thread rule: one thread at a time.
class Survey {
 public:
  explicit Survey(CycleSettings settings = {});
  void feed(const Sample& sample);
  /// May be asked at any time; costs a sort of at most a few thousand bins.
  SurveyResult result() const;
  /// Values with their counts, ascending, at most a few thousand.
  std::vector<AdaptiveHistogram::Bin> histogram() const { return histogram_.bins(); }
  /// The meter's digit, when it becomes known after construction (a file's decimals).
  void set_resolution(double resolution) { settings_.resolution = resolution; }

 private:
  void take(const TimedSample& sample);

  CycleSettings settings_;
  Timeline timeline_;
  Intervals intervals_;
  HeldDisplay held_;
  AdaptiveHistogram histogram_;
  SurveyResult counts_;
  std::uint64_t over_range_held_ = 0;
  bool previous_over_ = false;
  bool any_finite_ = false;
  bool previous_finite_ = false;
  unsigned run_ = 0;                        ///< samples in the present plateau
  double held_min_ = 0.0, held_max_ = 0.0;  ///< range of what two samples in a row confirm
  double previous_ = 0.0;
  double smallest_change_ = 0.0;
  double plateau_changes_ = 0.0;  ///< sum over plateau_pairs_
  std::uint64_t plateau_pairs_ = 0;
};

}  // namespace switchwright
