// Pass two behind one interface, and the two passes joined for a live stream.
#pragma once

#include <cstdint>
#include <deque>
#include <memory>
#include <optional>
#include <vector>

#include "switchwright/cycle/cycle.hpp"
#include "switchwright/cycle/finder.hpp"
#include "switchwright/cycle/settings.hpp"
#include "switchwright/cycle/summary.hpp"
#include "switchwright/cycle/survey.hpp"

namespace switchwright {

/// Pass two: the same samples as the survey was fed, once more. Constant memory.
/// Thread rule: one thread at a time; `listener`, when given, must outlive it.
class Analyzer final : private CycleListener {
 public:
  Analyzer(const SurveyResult& survey, const CycleSettings& settings, CycleListener* listener = nullptr);
  Analyzer(const Analyzer&) = delete;
  Analyzer& operator=(const Analyzer&) = delete;

  void feed(const Sample& sample) {
    watch_level(sample);
    finder_.feed(sample);
  }
  /// Call once after the last sample.
  CycleSummary finish();
  /// The figures so far, for a live view: without trends and steady part.
  CycleSummary so_far() const;

  const CycleFinder& finder() const { return finder_; }
  /// Live streams only: more is known about levels and sampling.
  void retune(const SurveyResult& survey);

 private:
  void on_cycle(const Cycle& cycle) override;
  void on_event(const CycleEvent& event) override;
  void on_edge(const Edge& edge) override;
  CycleSummary summary(bool quick) const;
  void put_state(CycleSummary& summary) const;
  void watch_level(const Sample& sample);
  void put_trust(CycleSummary& summary) const;

  CycleSettings settings_;
  SurveyResult survey_;
  CycleListener* listener_;
  CycleFinder finder_;
  Summarizer figures_;
  MedianKeeper on_dwell_s_, off_dwell_s_;
  std::optional<Edge> first_edge_, last_edge_;
  std::uint64_t flagged_ = 0;
  double run_from_ = 0.0;  ///< value with which the present run of like values began
  int run_ = 0;            ///< samples in it
  std::optional<double> lowest_lasting_high_, highest_lasting_low_;
};

/// One pass for a stream that cannot be read again. The first samples are kept in a bounded buffer; once two
/// levels show, they are analysed. Later the levels are refined, and when they turn out quite different (the
/// first were standby noise) the analysis starts again from the buffer: the listener hears on_restart(). The
/// record's own figures come from reading the stored samples in two passes.
class LiveAnalyzer {
 public:
  explicit LiveAnalyzer(CycleSettings settings = {}, CycleListener* listener = nullptr);
  void feed(const Sample& sample);
  CycleSummary so_far() const;
  CycleSummary finish();
  /// The present state, when two levels are known.
  std::optional<bool> high_now() const;
  int restarts() const { return restarts_; }

 private:
  void reconsider();
  void start(const SurveyResult& known);

  static constexpr std::size_t most_kept = 16384;
  CycleSettings settings_;
  CycleListener* listener_;
  Survey survey_;
  std::deque<Sample> kept_;  ///< the last samples until two levels show; then everything from there, until it is full
  bool keeping_ = true;
  std::unique_ptr<Analyzer> analyzer_;
  double reference_ = 0.0;
  double step_ = 0.0;
  std::uint64_t fed_ = 0;
  std::uint64_t next_look_ = 8;
  int restarts_ = 0;
};

/// Both passes over samples in memory.
CycleSummary analyze(const std::vector<Sample>& samples, const CycleSettings& settings = {},
                     CycleListener* listener = nullptr);

}  // namespace switchwright
