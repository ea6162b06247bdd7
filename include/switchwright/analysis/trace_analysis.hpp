// A kept trace, read again: both passes over the stored samples, and the judgement by the
// profile that is kept with it. What a report says comes from here, so it can be made again by anybody who
// has the record.
#pragma once

#include <functional>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "switchwright/cycle/analyze_file.hpp"
#include "switchwright/cycle/summary.hpp"
#include "switchwright/judge/cycling.hpp"
#include "switchwright/judge/event_log.hpp"
#include "switchwright/meter/definition.hpp"
#include "switchwright/record/record.hpp"

namespace switchwright {

/// One channel, computed from the samples; and what was kept of it when the trace ended.
struct TraceChannelAnalysis {
  std::string name;
  std::string quantity;  ///< as readings name it
  std::string unit;
  CycleSummary summary;
  SurveyResult survey;
  CycleEventLog events;
  std::vector<Cycle> first_cycles;  ///< at most 1000
  double resolution = 0.0;          ///< the coarsest digit that the meter showed; 0: unknown
  std::optional<CycleSummary> kept;
  /// The figures to be told: as kept, or as computed of a trace that did not end.
  const CycleSummary& told() const { return kept ? *kept : summary; }
};

struct TraceAnalysis {
  std::vector<TraceChannelAnalysis> channels;
  std::optional<CyclingJudgement> judgement;  ///< absent: the kept profile cannot be read any more
  std::uint64_t operations = 0;               ///< switching operations of the load
  std::optional<Life> life;                   ///< as kept
  std::vector<std::string> differences;       ///< where what was computed is not what was kept: one sentence each
};

/// Kind of the event that tells about a meter's calibration; it becomes a remark of the judgement. On disk.
inline constexpr std::string_view calibration_note = "meter-calibration";

/// What a channel's quantity says about its settings: dead limit, the meter's digit.
CycleSettings trace_settings(const std::string& quantity, double resolution);
/// A meter that is asked more often than it measures repeats itself: how long it holds a value. Nothing for one that
/// sends each measurement by itself.
std::optional<double> display_update_s(const MeterDefinition& meter);
/// One sample as the cycle room takes it; nothing for a reading that is no value.
std::optional<Sample> sample_of(const SampleRow& row);

/// Who else listens to pass two of a channel, whose name and unit are known then; may give nullptr.
using ChannelListener =
    std::function<SeriesListener*(std::size_t index, const TraceChannelAnalysis& channel, const Survey& survey)>;

/// Two passes over the samples, whose memory does not grow with them. Corrections of the meters' certificates
/// are added to the values. @param record loaded with its samples.
TraceAnalysis analyze_trace(const Record& record, const ChannelListener& listener = {});

/// The same for a report: a trace is judged once, when it ends, and told from what was kept then. What the samples give now is
/// the check of it, and says where it differs.
TraceAnalysis reported_trace(const Record& record, const ChannelListener& listener = {});

}  // namespace switchwright
