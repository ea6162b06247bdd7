#include "switchwright/report/trace_analysis.hpp"

#include <algorithm>

#include "switchwright/core/error.hpp"
#include "switchwright/meter/definition.hpp"
#include "switchwright/profile/library.hpp"
#include "switchwright/verify/uncertainty.hpp"

namespace switchwright {

namespace {

class Ear final : public SeriesListener {
 public:
  explicit Ear(TraceChannelAnalysis& channel) : channel_(channel) {}
  void on_cycle(const Cycle& cycle) override {
    if (channel_.first_cycles.size() < 1000) channel_.first_cycles.push_back(cycle);
    if (channel_.picture) channel_.picture->on_cycle(cycle);
  }
  void on_event(const CycleEvent& event) override {
    channel_.events.add(event);
    if (channel_.picture) channel_.picture->on_event(event);
  }
  void on_edge(const Edge& edge) override {
    if (channel_.picture) channel_.picture->on_edge(edge);
  }

 private:
  TraceChannelAnalysis& channel_;
};

/// U of the line voltage from the meter's own specification; nothing when it is not specified.
std::optional<double> line_U(const TraceChannel& channel, const CycleSummary& summary, double resolution, double k) {
  const auto quantity = quantity_named(channel.quantity);
  if (!quantity || !summary.high_level || channel.meter_text.empty()) return std::nullopt;
  try {
    const MeterDefinition meter = parse_meter_definition(channel.meter_text, channel.meter_id + ".toml");
    const Uncertainty u = uncertainty_of(meter, *quantity, *summary.high_level, resolution, nullptr, k);
    if (u.specified) return u.U;
  } catch (const Error&) {
    // A definition of another version: the uncertainty stays unknown.
  }
  return std::nullopt;
}

}  // namespace

CycleSettings trace_settings(const std::string& quantity, double resolution) {
  CycleSettings settings;
  settings.resolution = resolution;
  if (const auto known = quantity_named(quantity))
    settings.dead_below = dead_below_for("(" + std::string{unit_of(*known)} + ")");
  return settings;
}

std::optional<Sample> sample_of(const SampleRow& row) {
  switch (row.state) {
    case ReadingState::finite:
      return Sample{row.t_s, row.value, SampleKind::finite};
    case ReadingState::over_range:
      return Sample{row.t_s, 0.0, SampleKind::over_range};
    case ReadingState::not_a_number:
      break;
  }
  return std::nullopt;
}

TraceAnalysis analyze_trace(const Record& record, bool pictures) {
  TraceAnalysis analysis;
  std::vector<double> resolutions;
  for (const TraceChannel& channel : record.channels) {
    TraceChannelAnalysis& own = analysis.channels.emplace_back();
    own.name = channel.name;
    own.quantity = channel.quantity;
    if (const auto quantity = quantity_named(channel.quantity)) own.unit = std::string{unit_of(*quantity)};
    double resolution = 0.0;
    for (const SampleRow& row : record.samples)
      if (row.channel == channel.channel) resolution = std::max(resolution, row.resolution);
    resolutions.push_back(resolution);
    const CycleSettings settings = trace_settings(channel.quantity, resolution);
    Survey survey(settings);
    for (const SampleRow& row : record.samples)
      if (row.channel == channel.channel)
        if (const auto sample = sample_of(row)) survey.feed(*sample);
    own.survey = survey.result();
    if (pictures) own.picture = std::make_unique<PictureMaker>(channel.name, own.unit, survey);
    Ear ear(own);
    Analyzer analyzer(own.survey, settings, &ear);
    for (const SampleRow& row : record.samples)
      if (row.channel == channel.channel)
        if (const auto sample = sample_of(row)) {
          if (own.picture) own.picture->on_sample(*sample);
          analyzer.feed(*sample);
        }
    own.summary = analyzer.finish();
  }
  if (!record.trace) return analysis;
  try {
    const Profile profile = parse_profile(record.header.profile_text, record.header.profile_id + ".toml");
    std::vector<CyclingChannel> channels;
    for (std::size_t i = 0; i < analysis.channels.size(); ++i) {
      const TraceChannelAnalysis& own = analysis.channels[i];
      const bool any = own.survey.samples > own.survey.over_range + own.survey.under_range;
      channels.push_back({own.name, &own.summary, any ? std::optional{own.survey.min} : std::nullopt,
                          any ? std::optional{own.survey.max} : std::nullopt,
                          line_U(record.channels[i], own.summary, resolutions[i], record.header.k), own.unit == "V"});
    }
    CyclingConditions conditions;
    conditions.supply_v = record.trace->supply_v;
    conditions.load_ohm = record.trace->load_ohm;
    conditions.rule = record.header.rule == "simple" ? DecisionRule::simple : DecisionRule::guarded;
    analysis.judgement = judge_cycling(profile, record.trace->position, channels, conditions);
    for (const TraceChannelAnalysis& own : analysis.channels)
      if (own.name == analysis.judgement->load_channel) analysis.operations = own.summary.edges;
  } catch (const Error&) {
    analysis.judgement.reset();
  }
  return analysis;
}

}  // namespace switchwright
