#include "switchwright/cycle/analyzer.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace switchwright {

namespace {
/// Fewer samples than this in the typical on or off dwell: the figures would be sampling, not switching.
constexpr double least_samples_per_dwell = 3.0;
}  // namespace

Analyzer::Analyzer(const SurveyResult& survey, const CycleSettings& settings, CycleListener* listener)
    : settings_(settings),
      survey_(survey),
      listener_(listener),
      finder_(survey, settings, *this),
      figures_(settings) {}

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
  last_edge_ = edge;
  if (listener_ != nullptr) listener_->on_edge(edge);
}

CycleSummary Analyzer::finish() {
  finder_.finish();
  return summary(false);
}

CycleSummary Analyzer::so_far() const {
  return summary(true);
}

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
  if (survey_.interval_s > 0.0) s.interval_s = survey_.interval_s;
  if (survey_.gap_over_s > 0.0) s.gap_over_s = survey_.gap_over_s;
  figures_.report(s, quick);

  const StateLevels& levels = survey_.levels;
  if (levels.count == LevelCount::one) {
    s.state = levels.dead ? ChannelState::always_off : ChannelState::always_on;
    if (!levels.high_is_over_range) (levels.dead ? s.low_level : s.high_level) = levels.low;
    if (!levels.why_one.empty()) s.notes.push_back("Taken as one level: " + levels.why_one + ".");
  } else if (levels.count == LevelCount::two) {
    s.min_dwell_s = finder_.min_dwell_s();
    s.high_at_end = last_edge_ ? last_edge_->rising : finder_.mostly_high();
    s.low_level = levels.low;
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

  const double interval_s = survey_.interval_s;
  const auto too_short = [&](const MedianKeeper& dwell_s) {
    return dwell_s.median() && interval_s > 0.0 && *dwell_s.median() < least_samples_per_dwell * interval_s;
  };
  const bool lone_pulses =
      finder_.single_sample_dwells() > finder_.dwells() && finder_.single_sample_dwells() >= 3;
  if (levels.count == LevelCount::two && (too_short(on_dwell_s_) || too_short(off_dwell_s_) || lone_pulses)) {
    s.trusted = false;
    s.reasons.push_back(
        fmt::format("Sampled every {:.3g} s, too coarse for these pulses: the shorter of on and off lasts "
                    "fewer than {:g} samples. "
                    "Sample faster.",
                    interval_s, least_samples_per_dwell));
  }
  if (survey_.out_of_order * 4 > survey_.samples) {
    s.trusted = false;
    s.reasons.push_back("More than a quarter of the time stamps run backward. Sort the file by time.");
  }
  if (!s.trusted) {
    s.all = CycleFigures{};
    s.all.cycles = s.complete_cycles;
    s.steady = CycleFigures{};
    s.steady_from_cycle.reset();
    s.drifting = false;
  }
  return s;
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

CycleSummary analyze(const std::vector<Sample>& samples, const CycleSettings& settings,
                     CycleListener* listener) {
  Survey survey(settings);
  for (const Sample& sample : samples) survey.feed(sample);
  Analyzer analyzer(survey.result(), settings, listener);
  for (const Sample& sample : samples) analyzer.feed(sample);
  return analyzer.finish();
}

}  // namespace switchwright
