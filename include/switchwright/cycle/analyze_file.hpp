// A recorded series from file to figures: both passes, every channel.
#pragma once

#include <cstdint>
#include <filesystem>
#include <functional>
#include <string>
#include <vector>

#include "switchwright/cycle/analyzer.hpp"
#include "switchwright/cycle/series_file.hpp"

namespace switchwright {

/// Also hears the samples of its channel, for pictures.
class SeriesListener : public CycleListener {
 public:
  virtual void on_sample(const Sample&) {}
  /// False spares the call per sample.
  virtual bool wants_samples() const { return false; }
};

struct ChannelResult {
  std::string name;
  CycleSummary summary;
  SurveyResult survey;
};

struct FileResult {
  SeriesLayout layout;
  std::uint64_t rows = 0;
  std::uint64_t bad_rows = 0;
  std::optional<Interval> span_s;  ///< from the earliest row to the latest
  std::vector<BadRow> first_bad_rows;
  std::vector<ChannelResult> channels;
};

/// Called between the passes, once per channel: who listens to this channel's cycles (may be nullptr; kept by
/// the caller). `survey` and its histogram are known by then.
using ListenerFor = std::function<SeriesListener*(std::size_t channel, const std::string& name, const Survey& survey)>;

/// Analyses every channel of a file. The resolution of each channel comes from its decimals and the dead
/// limit from its name, where `settings` leave them open. Memory is constant in the length of the file.
/// @throws Error(usage) for a file that cannot be read or holds no samples.
/// @param time_unit_s of the time column, when the person states it
FileResult analyze_file(const std::filesystem::path& path, const CycleSettings& settings = {},
                        std::optional<double> time_unit_s = {}, const ListenerFor& listener_for = {});

}  // namespace switchwright
