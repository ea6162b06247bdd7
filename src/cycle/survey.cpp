#include "switchwright/cycle/survey.hpp"

#include <algorithm>
#include <cmath>

namespace switchwright {

namespace {
/// Neighbours that agree within this share of the range so far belong to a plateau.
constexpr double plateau_share = 0.10;
/// A plateau of this many samples has settled; an inrush is shorter.
constexpr unsigned settled_run = 5;
/// Overload codes of instruments (9.9e37) and nonsense.
constexpr double largest_value = 1e30;
}  // namespace

Survey::Survey(CycleSettings settings) : settings_(settings) {}

void Survey::feed(const Sample& sample) {
  ++counts_.samples;
  timeline_.feed(sample, [this](const TimedSample& timed) { take(timed); });
}

void Survey::take(const TimedSample& sample) {
  if (sample.first) counts_.first_s = sample.t_s;
  counts_.last_s = sample.t_s;
  if (sample.dt_s > 0.0 && !sample.clock_step) intervals_.add(sample.dt_s);
  const double value = sample.value;
  if (sample.kind != SampleKind::finite || !(std::abs(value) < largest_value)) {
    const bool under = sample.kind == SampleKind::under_range || (sample.kind == SampleKind::finite && value < 0.0);
    ++(under ? counts_.under_range : counts_.over_range);
    if (!under && previous_over_) ++over_range_held_;
    previous_over_ = !under;
    previous_finite_ = false;
    return;
  }
  previous_over_ = false;
  if (!any_finite_) {
    any_finite_ = true;
    counts_.min = counts_.max = held_min_ = held_max_ = value;
  }
  counts_.min = std::min(counts_.min, value);
  counts_.max = std::max(counts_.max, value);
  unsigned steady = 0, settled = 0;
  if (previous_finite_) {
    const double change = std::abs(value - previous_);
    const bool flicker = change <= plateau_share * (held_max_ - held_min_);
    if (!sample.clock_step) held_.take(sample.t_s, sample.dt_s, change > 0.0, flicker);
    if (change > 0.0 && (smallest_change_ == 0.0 || change < smallest_change_)) smallest_change_ = change;
    held_min_ = std::min(held_min_, std::max(value, previous_));
    held_max_ = std::max(held_max_, std::min(value, previous_));
    if (change <= plateau_share * (held_max_ - held_min_)) {
      if (run_ == 1) histogram_.add_steady(previous_);
      plateau_changes_ += change;
      ++plateau_pairs_;
      ++run_;
      steady = 1;
      // The samples before count at the value that ends their run-in: near enough for a level.
      settled = run_ < settled_run ? 0 : run_ == settled_run ? settled_run : 1;
    } else {
      run_ = 1;
    }
  } else {
    run_ = 1;
  }
  histogram_.add(value, steady, settled);
  previous_ = value;
  previous_finite_ = true;
}

SurveyResult Survey::result() const {
  SurveyResult result = counts_;
  result.duplicates = timeline_.duplicates();
  result.out_of_order = timeline_.out_of_order();
  result.clock_steps = timeline_.clock_steps();
  result.interval_s = intervals_.quantile(0.5);
  result.update_s = settings_.update_s.value_or(held_.update_s(result.interval_s));
  if (result.update_s < 1.05 * result.interval_s) result.update_s = 0.0;
  result.gap_over_s = settings_.gap_over_s.value_or(intervals_.gap_over_s());
  const double noise = plateau_pairs_ > 0 ? plateau_changes_ / static_cast<double>(plateau_pairs_) : 0.0;
  result.levels = find_levels(histogram_.bins(), {smallest_change_, noise},
                              100 * counts_.over_range >= counts_.samples ? over_range_held_ : 0, settings_);
  return result;
}

}  // namespace switchwright
