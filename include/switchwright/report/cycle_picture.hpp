// Pictures of a series as SVG text: the trace with levels, reference, edges and cycles; duty and period per
// cycle; the histogram of samples with the two levels. Readable on light and dark ground, in constant memory
// whatever the length: a long trace is drawn as the smallest and largest value of every pixel column, so no
// excursion is lost.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "switchwright/cycle/analyze_file.hpp"
#include "switchwright/cycle/summary.hpp"

namespace switchwright {

class CycleSheet;

/// Listens to pass two of one channel, then draws. Thread rule: one thread at a time.
class PictureMaker final : public SeriesListener {
 public:
  /// @param name the channel, @param unit of its values ("V"; may be empty)
  /// @param id unique in the page that the pictures stand in: letters, digits and hyphens
  PictureMaker(std::string name, std::string unit, const Survey& survey, std::string id = "channel");

  bool wants_samples() const override { return true; }
  void on_sample(const Sample& sample) override;
  void on_cycle(const Cycle& cycle) override;
  void on_event(const CycleEvent& event) override;
  void on_edge(const Edge& edge) override;

  /// Each a picture 960 units wide that stands inside an HTML page.
  std::string trace_svg(const CycleSummary& summary) const;   ///< and the first cycles beside it when it is long
  std::string cycles_svg(const CycleSummary& summary) const;  ///< duty and period per cycle
  std::string histogram_svg(const CycleSummary& summary) const;
  /// The three under each other in one document of its own, for `analyze --picture`.
  std::string whole_svg(const CycleSummary& summary) const;

 private:
  friend class CycleSheet;
  struct Column {
    double min = 0.0, max = 0.0, first = 0.0, last = 0.0;
    bool any = false;
  };
  /// Values per cycle, at most `most_blocks` blocks of neighbours.
  struct PerCycle {
    struct Block {
      double min, max, sum;
      std::uint64_t count;
    };
    std::vector<Block> blocks;
    std::uint64_t block = 1;
    void add(double x);
  };

  std::string name_;
  std::string unit_;
  std::string id_;
  SurveyResult survey_;
  std::vector<AdaptiveHistogram::Bin> histogram_;
  double y_min_ = 0.0, y_max_ = 1.0;
  bool y_cut_ = false;
  Timeline timeline_;
  std::vector<Column> columns_;
  std::vector<TimedSample> first_samples_;
  std::vector<Edge> first_edges_;
  std::vector<Cycle> first_cycles_;
  std::vector<CycleEvent> first_events_;
  PerCycle duty_, period_s_;
};

/// The unit at the end of a column name, "load (V)" or "power_W"; empty when there is none.
std::string unit_in(const std::string& column_name);

}  // namespace switchwright
