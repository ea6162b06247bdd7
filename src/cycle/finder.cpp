#include "switchwright/cycle/finder.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

namespace switchwright {

namespace {

constexpr double hysteresis = 0.10;  // of the step, each side of the reference
constexpr double blip_share = 0.10;  // of the typical dwell
constexpr double infinite = std::numeric_limits<double>::infinity();

double median_of(std::vector<double>& values) {
  const auto middle = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
  std::nth_element(values.begin(), middle, values.end());
  return *middle;
}

}  // namespace

std::string to_string(CycleEventKind kind) {
  switch (kind) {
    case CycleEventKind::gap: return "gap";
    case CycleEventKind::clock_step: return "clock-step";
    case CycleEventKind::blip: return "blip";
    case CycleEventKind::over_range: return "over-range";
    case CycleEventKind::incomplete: return "incomplete-cycle";
  }
  return {};
}

CycleFinder::CycleFinder(const SurveyResult& survey, const CycleSettings& settings, CycleListener& listener)
    : settings_(settings),
      listener_(listener),
      min_dwell_s_(settings.min_dwell_s),
      single_sample_is_blip_(!settings.min_dwell_s),
      shortest_dwell_s_(settings.shortest_dwell_s.value_or(infinite)),
      last_cycle_end_s_(-infinite) {
  set_levels(survey);
}

void CycleFinder::retune(const SurveyResult& survey) { set_levels(survey); }

void CycleFinder::set_levels(const SurveyResult& survey) {
  const StateLevels& levels = survey.levels;
  two_levels_ = levels.count == LevelCount::two;
  reference_ = levels.reference();
  up_ = reference_ + hysteresis * levels.step();
  down_ = reference_ - hysteresis * levels.step();
  ten_ = levels.low + 0.1 * levels.step();
  ninety_ = levels.low + 0.9 * levels.step();
  interval_s_ = survey.interval_s;
  update_s_ = survey.update_s;
  gap_over_s_ = settings_.gap_over_s.value_or(survey.gap_over_s > 0.0 ? survey.gap_over_s : infinite);
}

void CycleFinder::feed(const Sample& sample) {
  timeline_.feed(sample, [this](const TimedSample& timed) { take(timed); });
}

std::optional<bool> CycleFinder::high_now() const {
  if (!have_state_) return std::nullopt;
  return current_.high;
}

void CycleFinder::take(const TimedSample& sample) {
  const bool over =
      sample.kind == SampleKind::over_range || (sample.kind == SampleKind::finite && sample.value >= 1e30);
  const bool under =
      sample.kind == SampleKind::under_range || (sample.kind == SampleKind::finite && !(sample.value > -1e30));
  const double value = over ? infinite : under ? -infinite : sample.value;
  const bool gap = sample.clock_step || sample.dt_s > gap_over_s_;
  if (gap && !sample.first)
    burst_after_gap_s_ = sample.clock_step ? infinite : sample.dt_s;
  else if (sample.dt_s > 0.5 * interval_s_)
    burst_after_gap_s_ = 0.0;
  if (gap && !sample.first) {
    ++gaps_;
    longest_gap_s_ = std::max(longest_gap_s_, sample.clock_step ? infinite : sample.dt_s);
    listener_.on_event({sample.clock_step ? CycleEventKind::clock_step : CycleEventKind::gap, previous_t_s_,
                        sample.clock_step ? 0.0 : sample.dt_s, have_state_ && current_.high});
  }
  if (over && !in_over_range_) listener_.on_event({CycleEventKind::over_range, sample.t_s, 0.0, true});
  in_over_range_ = over;
  if (!two_levels_) {
    previous_t_s_ = sample.t_s;
    return;
  }
  if (!sample.first && (previous_value_ < reference_) != (value < reference_)) {
    crossing_.interval_s = std::max(sample.dt_s > 0.0 ? sample.dt_s : interval_s_, update_s_);
    crossing_.certain = !gap && burst_after_gap_s_ == 0.0;
    if (!gap) crossing_.interval_s = std::max(crossing_.interval_s, burst_after_gap_s_);
    crossing_.interpolated = previous_value_ > ten_ && previous_value_ < ninety_ && value > ten_ && value < ninety_;
    const double share = crossing_.interpolated ? (reference_ - previous_value_) / (value - previous_value_) : 0.5;
    crossing_.t_s = previous_t_s_ + share * sample.dt_s;
    gap_since_crossing_s_ = 0.0;
  } else if (gap) {
    const double length_s = sample.clock_step ? infinite : sample.dt_s;
    gap_since_crossing_s_ = std::max(gap_since_crossing_s_, length_s);
    current_.longest_gap_s = std::max(current_.longest_gap_s, length_s);
  }
  const bool high = value >= up_;
  if (high || value < down_) {
    if (!have_state_) {
      have_state_ = true;
      current_ = Dwell{};
      current_.high = high;
      current_.from_start = true;
      current_.start = {sample.t_s, 0.0, high, false, false};
    } else if (high != current_.high) {
      change_state(high);
    }
  }
  ++current_.samples;
  ++state_samples_;
  if (have_state_ && current_.high) ++high_samples_;
  previous_value_ = value;
  previous_t_s_ = sample.t_s;
}

void CycleFinder::change_state(bool high) {
  Dwell ended = current_;
  crossing_.rising = high;
  ended.end = crossing_;
  current_ = Dwell{};
  current_.high = high;
  current_.start = crossing_;
  current_.longest_gap_s = gap_since_crossing_s_;
  dwell_ended(ended);
}

void CycleFinder::dwell_ended(const Dwell& dwell) {
  if (dwell.samples == 1 && !dwell.from_start && !dwell.to_end) ++single_sample_dwells_;
  if (min_dwell_s_) {
    sift(dwell);
    return;
  }
  waiting_.push_back(dwell);
  if (waiting_.size() >= std::max<std::size_t>(settings_.calibration_dwells, 4)) calibrate();
}

/// Pulses hardly longer than the sampling interval are seen in one sample or two.
bool CycleFinder::single_samples_are_dwells() const {
  for (const bool high : {false, true}) {
    std::uint64_t single = 0, longest = 0;
    for (const Dwell& dwell : waiting_) {
      if (dwell.high != high || dwell.from_start || dwell.to_end) continue;
      if (dwell.samples == 1) ++single;
      longest = std::max(longest, dwell.samples);
    }
    if (single >= 3 && longest <= 3) return true;
  }
  return false;
}

void CycleFinder::calibrate() {
  if (single_sample_is_blip_ && single_samples_are_dwells()) single_sample_is_blip_ = false;
  std::vector<double> on_s, off_s;
  for (const Dwell& dwell : waiting_)
    if (dwell.whole() && (dwell.samples > 1 || !single_sample_is_blip_))
      (dwell.high ? on_s : off_s).push_back(dwell.length_s());
  double typical_s = infinite;
  if (!on_s.empty()) typical_s = std::min(typical_s, median_of(on_s));
  if (!off_s.empty()) typical_s = std::min(typical_s, median_of(off_s));
  min_dwell_s_ = std::isfinite(typical_s) ? blip_share * typical_s : 0.0;
  // What could hide in a gap is known from all of these before the first cycle is judged.
  for (const Dwell& dwell : waiting_)
    if (dwell.whole() && !is_blip(dwell)) shortest_dwell_s_ = std::min(shortest_dwell_s_, dwell.length_s());
  for (const Dwell& dwell : waiting_) sift(dwell);
  waiting_.clear();
}

bool CycleFinder::is_blip(const Dwell& dwell) const {
  if (dwell.from_start) return false;
  if (single_sample_is_blip_ && dwell.samples <= 1) return true;
  return !dwell.to_end && dwell.length_s() < *min_dwell_s_;
}

void CycleFinder::sift(const Dwell& dwell) {
  if (!last_) {
    last_ = dwell;
    return;
  }
  if (join_next_) {  // the same state as before the blip
    join_next_ = false;
    last_->end = dwell.end;
    last_->to_end = dwell.to_end;
    last_->samples += dwell.samples;
    last_->longest_gap_s = std::max(last_->longest_gap_s, dwell.longest_gap_s);
    return;
  }
  if (is_blip(dwell)) {
    ++blips_;
    ++last_->blips;
    last_->longest_gap_s = std::max(last_->longest_gap_s, dwell.longest_gap_s);
    if (!dwell.start.certain || !dwell.end.certain)
      last_->longest_gap_s = std::max({last_->longest_gap_s, dwell.start.interval_s, dwell.end.interval_s});
    listener_.on_event({CycleEventKind::blip, dwell.start.t_s, dwell.to_end ? 0.0 : dwell.length_s(), dwell.high});
    join_next_ = true;
    if (dwell.to_end) last_->to_end = true;
    return;
  }
  accept(*last_);
  last_ = dwell;
}

/// What nobody saw: an edge that lies in a gap may be at either end of it, and while no sample came the contact may have stood in
/// the other state.
void CycleFinder::weigh_gaps(const Dwell& dwell) {
  const bool start_unseen = !dwell.from_start && !dwell.start.certain;
  const bool end_unseen = !dwell.to_end && !dwell.end.certain;
  if (!start_unseen && !end_unseen && dwell.longest_gap_s == 0.0) return;
  double& same = longest_possible_s_[dwell.high ? 1 : 0];
  double& other = longest_possible_s_[dwell.high ? 0 : 1];
  other = std::max(other, dwell.longest_gap_s);
  if (dwell.from_start || dwell.to_end) return;
  const double before_s = start_unseen ? dwell.start.interval_s / 2.0 : 0.0;
  const double after_s = end_unseen ? dwell.end.interval_s / 2.0 : 0.0;
  same = std::max(same, dwell.length_s() + before_s + after_s);
}

void CycleFinder::accept(const Dwell& dwell) {
  weigh_gaps(dwell);
  if (!dwell.from_start) {
    ++edges_;
    listener_.on_edge(dwell.start);
  }
  if (dwell.whole()) {
    ++dwells_;
    shortest_dwell_s_ = std::min(shortest_dwell_s_, dwell.length_s());
  }
  if (dwell.high) {
    on_ = dwell;
    return;
  }
  if (on_ && !dwell.to_end) finish_cycle(*on_, dwell);
  on_.reset();
}

void CycleFinder::finish_cycle(const Dwell& on, const Dwell& off) {
  if (on.from_start) return;
  const double longest_gap_s = std::max(on.longest_gap_s, off.longest_gap_s);
  const double hiding_s = std::isfinite(shortest_dwell_s_) ? shortest_dwell_s_ : min_dwell_s_.value_or(0.0);
  const bool hidden = longest_gap_s > 0.0 && longest_gap_s >= hiding_s;
  const bool takes_time = off.end.t_s > on.start.t_s;  // stamps that stand still time nothing
  if (!on.whole() || !off.whole() || hidden || !takes_time) {
    ++incomplete_;
    listener_.on_event({CycleEventKind::incomplete, on.start.t_s, off.end.t_s - on.start.t_s, true});
    return;
  }
  Cycle cycle;
  cycle.index = ++cycles_;
  cycle.start_s = on.start.t_s;
  cycle.on_s = on.length_s();
  cycle.off_s = off.length_s();
  cycle.period_s = cycle.on_s + cycle.off_s;
  cycle.duty = cycle.on_s / cycle.period_s;
  cycle.rise_interval_s = on.start.interval_s;
  cycle.fall_interval_s = on.end.interval_s;
  cycle.next_rise_interval_s = off.end.interval_s;
  cycle.blips = on.blips + off.blips;
  cycle.has_gap = longest_gap_s > 0.0;
  cycle.follows_on = cycle.start_s == last_cycle_end_s_;
  last_cycle_end_s_ = off.end.t_s;
  listener_.on_cycle(cycle);
}

void CycleFinder::finish() {
  if (have_state_) {
    last_gap_s_ = current_.longest_gap_s;
    Dwell ended = current_;
    ended.to_end = true;
    ended.end = {previous_t_s_, 0.0, !ended.high, false, false};
    if (!min_dwell_s_) {
      waiting_.push_back(ended);
      calibrate();
    } else {
      sift(ended);
    }
    if (last_) accept(*last_);
    last_.reset();
    have_state_ = false;
  }
}

}  // namespace switchwright
