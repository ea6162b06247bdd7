#include "switchwright/cycle/analyzer.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <utility>

#include "switchwright/core/text.hpp"

namespace switchwright {

namespace {
/// Samples in the typical dwell of the shorter kind, on or off. With fewer than this the figures are more sampling
/// than switching: given with the U that this means, but not to be trusted.
constexpr double trusted_samples_per_dwell = 3.0;
/// With fewer than this a pulse may be seen in one sample or in none: on and off are not known at all.
constexpr double least_samples_per_dwell = 1.5;
/// Then the period is still known when no pulse was missed: a missed one makes a period twice as long.
constexpr double regular_period = 1.6;  // longest against median
/// So many samples in a row that differ by no more than this share of the step are a value that lasted.
constexpr int lasting_samples = 5;
constexpr double lasting_share = 0.02;
}  // namespace

Analyzer::Analyzer(const SurveyResult& survey, const CycleSettings& settings, CycleListener* listener)
    : settings_(settings), survey_(survey), listener_(listener), finder_(survey, settings, *this), figures_(settings) {}

void Analyzer::watch_level(const Sample& sample) {
  const StateLevels& levels = survey_.levels;
  if (levels.count != LevelCount::two || levels.high_is_over_range) return;
  if (sample.kind != SampleKind::finite) {
    run_ = 0;
    return;
  }
  if (run_ == 0 || !(std::abs(sample.value - run_from_) <= lasting_share * levels.step())) {
    run_from_ = sample.value;
    run_ = 1;
  } else if (++run_ >= lasting_samples) {
    if (run_from_ >= levels.reference())
      lowest_lasting_high_ = std::min(lowest_lasting_high_.value_or(run_from_), run_from_);
    else
      highest_lasting_low_ = std::max(highest_lasting_low_.value_or(run_from_), run_from_);
  }
}

void Analyzer::retune(const SurveyResult& survey) {
  survey_ = survey;
  finder_.retune(survey);
}

void Analyzer::on_cycle(const Cycle& cycle) {
  figures_.add(cycle);
  if (cycle.has_gap) ++flagged_;
  if (listener_ != nullptr) listener_->on_cycle(cycle);
}

void Analyzer::on_event(const CycleEvent& event) {
  if (listener_ != nullptr) listener_->on_event(event);
}

void Analyzer::on_edge(const Edge& edge) {
  if (last_edge_ && last_edge_->certain && edge.certain && last_edge_->rising != edge.rising)
    (edge.rising ? off_dwell_s_ : on_dwell_s_).add(edge.t_s - last_edge_->t_s);
  if (!first_edge_) first_edge_ = edge;
  last_edge_ = edge;
  if (listener_ != nullptr) listener_->on_edge(edge);
}

CycleSummary Analyzer::finish() {
  finder_.finish();
  return summary(false);
}

CycleSummary Analyzer::so_far() const { return summary(true); }

CycleSummary Analyzer::summary(bool quick) const {
  CycleSummary s;
  s.samples = survey_.samples;
  s.gaps = finder_.gaps();
  s.longest_gap_s = finder_.longest_gap_s();
  s.blips = finder_.blips();
  s.incomplete_cycles = finder_.incomplete();
  s.flagged_cycles = flagged_;
  s.edges = finder_.edges();
  s.duplicate_stamps = survey_.duplicates;
  s.out_of_order_stamps = survey_.out_of_order;
  s.clock_steps = survey_.clock_steps;
  s.over_range = survey_.over_range;
  s.first_s = survey_.first_s;
  s.last_s = survey_.last_s;
  s.last_change_s = last_edge_ ? last_edge_->t_s : s.first_s;
  s.first_change_s = first_edge_ ? first_edge_->t_s : s.last_s;
  if (first_edge_) s.high_at_start = !first_edge_->rising;
  s.possible_on_s = finder_.longest_possible_s(true);
  s.possible_off_s = finder_.longest_possible_s(false);
  s.longest_gap_in_last_dwell_s = finder_.longest_gap_in_last_dwell_s();
  if (survey_.update_s > 0.0) s.update_s = survey_.update_s;
  if (survey_.interval_s > 0.0) s.interval_s = survey_.interval_s;
  if (survey_.gap_over_s > 0.0) s.gap_over_s = survey_.gap_over_s;
  figures_.report(s, quick);
  put_state(s);
  put_trust(s);
  return s;
}

void Analyzer::put_state(CycleSummary& s) const {
  const StateLevels& levels = survey_.levels;
  if (levels.count == LevelCount::one) {
    s.state = levels.dead ? ChannelState::always_off : ChannelState::always_on;
    if (!levels.high_is_over_range) (levels.dead ? s.low_level : s.high_level) = levels.low;
    if (!levels.why_one.empty()) s.notes.push_back(full_stop("Taken as one level: " + levels.why_one));
  } else if (levels.count == LevelCount::two) {
    s.min_dwell_s = finder_.min_dwell_s();
    s.high_at_end = last_edge_ ? last_edge_->rising : finder_.mostly_high();
    s.low_level = levels.low;
    s.lowest_lasting_high = lowest_lasting_high_;
    s.highest_lasting_low = highest_lasting_low_;
    if (!levels.high_is_over_range) {
      s.high_level = levels.high;
      s.reference_level = levels.reference();
      if (levels.lowest_high != levels.high) {
        s.second_on_level = levels.lowest_high;
        s.notes.push_back("There is more than one on-level; the reference lies half way to the lowest.");
      }
    }
    s.state = s.edges > 0             ? ChannelState::cycling
              : finder_.mostly_high() ? ChannelState::always_on
                                      : ChannelState::always_off;
    if (s.edges == 0) {
      (s.state == ChannelState::always_on ? s.low_level : s.high_level).reset();
      s.reference_level.reset();
      s.second_on_level.reset();
      if (s.blips > 0) s.notes.push_back(fmt::format("{} short excursions, none that lasted.", s.blips));
    }
    if (s.edges > 0 && s.complete_cycles == 0 && s.incomplete_cycles == 0)
      s.notes.push_back("It switched, but never through a complete cycle from one rising edge to the next.");
  }
}

void Analyzer::put_trust(CycleSummary& s) const {
  enum class Known { everything, period, nothing };
  Known known = Known::everything;
  const auto distrust = [&](Known what, std::string reason) {
    s.trusted = false;
    s.reasons.push_back(std::move(reason));
    known = std::max(known, what);
  };
  const double step_s = std::max(survey_.interval_s, survey_.update_s);
  double samples = std::numeric_limits<double>::infinity();
  // The median is a whole number of samples; the mean tells 2.8 from 3.
  for (const auto& dwell_s : {on_dwell_s_.median(), off_dwell_s_.median(), s.all.on_s.mean, s.all.off_s.mean})
    if (dwell_s && step_s > 0.0) samples = std::min(samples, *dwell_s / step_s);
  const bool lone_pulses = finder_.single_sample_dwells() > finder_.dwells() && finder_.single_sample_dwells() >= 3;
  if (survey_.levels.count == LevelCount::two && (samples < trusted_samples_per_dwell || lone_pulses)) {
    const Figure& period = s.all.period_s;
    const bool regular = period.max && period.median && *period.max < regular_period * *period.median;
    const bool seen = samples >= least_samples_per_dwell && !lone_pulses;
    const char* what = seen      ? "U says how far the figures may be off."
                       : regular ? "Only the period is known."
                                 : "Pulses may have been missed, so no figure is given.";
    distrust(seen      ? Known::everything
             : regular ? Known::period
                       : Known::nothing,
             fmt::format("{} every {:.3g} s, too coarse for these pulses: the shorter of on and off lasts fewer than "
                         "{:g} samples. {} Sample faster.",
                         survey_.update_s > 0.0 ? "The meter's display changes only" : "Sampled", step_s,
                         trusted_samples_per_dwell, what));
  }
  if (survey_.out_of_order * 4 > survey_.samples)
    distrust(Known::nothing, "More than a quarter of the time stamps run backward. Sort the file by time.");
  if (known == Known::everything) return;
  for (CycleFigures* figures : {&s.all, &s.steady}) {
    figures->on_s = figures->off_s = figures->duty = Figure{};
    if (known == Known::nothing) figures->period_s = Figure{};
  }
  if (known == Known::period) return;
  s.steady = CycleFigures{};
  s.steady_from_cycle.reset();
  s.drifting = false;
}

LiveAnalyzer::LiveAnalyzer(CycleSettings settings, CycleListener* listener)
    : settings_(settings), listener_(listener), survey_(settings) {
  // A live view cannot wait for many dwells before it shows the first cycle.
  settings_.calibration_dwells = std::min<std::size_t>(settings_.calibration_dwells, 6);
}

void LiveAnalyzer::feed(const Sample& sample) {
  ++fed_;
  survey_.feed(sample);
  if (keeping_) kept_.push_back(sample);
  if (kept_.size() > most_kept) {
    if (analyzer_) {
      keeping_ = false;
      kept_ = {};
    } else {
      kept_.pop_front();
    }
  }
  if (analyzer_) analyzer_->feed(sample);
  if (fed_ < next_look_) return;
  // Often at first, then ever more rarely: the cost per sample falls toward nothing.
  next_look_ = fed_ + std::max<std::uint64_t>(8, fed_ / 16);
  reconsider();
}

void LiveAnalyzer::start(const SurveyResult& known) {
  if (analyzer_) {
    ++restarts_;
    if (listener_ != nullptr) listener_->on_restart();
  }
  reference_ = known.levels.reference();
  step_ = known.levels.step();
  analyzer_ = std::make_unique<Analyzer>(known, settings_, listener_);
  for (const Sample& sample : kept_) analyzer_->feed(sample);
}

void LiveAnalyzer::reconsider() {
  const SurveyResult known = survey_.result();
  if (known.levels.count != LevelCount::two || known.levels.single_sample_pulses) return;
  const double reference = known.levels.reference();
  if (!analyzer_ || std::abs(reference - reference_) > 0.25 * std::max(step_, known.levels.step())) {
    start(known);
    return;
  }
  analyzer_->retune(known);
}

CycleSummary LiveAnalyzer::so_far() const {
  if (analyzer_) return analyzer_->so_far();
  return Analyzer(survey_.result(), settings_).so_far();
}

CycleSummary LiveAnalyzer::finish() {
  reconsider();
  if (!analyzer_) start(survey_.result());
  analyzer_->retune(survey_.result());
  return analyzer_->finish();
}

std::optional<bool> LiveAnalyzer::high_now() const {
  if (!analyzer_) return std::nullopt;
  return analyzer_->finder().high_now();
}

CycleSummary analyze(const std::vector<Sample>& samples, const CycleSettings& settings, CycleListener* listener) {
  Survey survey(settings);
  for (const Sample& sample : samples) survey.feed(sample);
  Analyzer analyzer(survey.result(), settings, listener);
  for (const Sample& sample : samples) analyzer.feed(sample);
  return analyzer.finish();
}

}  // namespace switchwright
