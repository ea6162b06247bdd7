#include "switchwright/analysis/trace_analysis.hpp"

#include <algorithm>
#include <map>

#include "switchwright/core/error.hpp"
#include "switchwright/judge/uncertainty.hpp"
#include "switchwright/meter/definition.hpp"
#include "switchwright/profile/library.hpp"

namespace switchwright {

namespace {

class Ear final : public SeriesListener {
 public:
  Ear(TraceChannelAnalysis& channel, SeriesListener* further) : channel_(channel), further_(further) {}
  bool wants_samples() const override { return further_ != nullptr && further_->wants_samples(); }
  void on_sample(const Sample& sample) override { further_->on_sample(sample); }
  void on_cycle(const Cycle& cycle) override {
    if (channel_.first_cycles.size() < 1000) channel_.first_cycles.push_back(cycle);
    if (further_) further_->on_cycle(cycle);
  }
  void on_event(const CycleEvent& event) override {
    channel_.events.add(event);
    if (further_) further_->on_event(event);
  }
  void on_edge(const Edge& edge) override {
    if (further_) further_->on_edge(edge);
  }

 private:
  TraceChannelAnalysis& channel_;
  SeriesListener* further_;
};

/// One channel on its way through both passes. Values carry the corrections of the meter's certificate.
struct Pass {
  explicit Pass(const TraceChannel& channel)
      : quantity(quantity_named(channel.quantity)), survey(trace_settings(channel.quantity, 0.0)) {
    if (channel.meter_text.empty()) return;
    try {
      meter = parse_meter_definition(channel.meter_text, channel.meter_id + ".toml");
    } catch (const Error&) {
      // A definition of another version: the uncertainty stays unknown.
    }
    if (meter) survey = Survey{settings(channel.quantity)};
  }

  std::optional<Sample> sample(const SampleRow& row) const {
    auto one = sample_of(row);
    if (one && one->kind == SampleKind::finite && meter && quantity && !meter->corrections.empty())
      one->value = calibrated(*meter, *quantity, one->value);
    return one;
  }

  /// U of the on-level from the meter's own specification; nothing when it is not specified.
  std::optional<double> U_of_level(const CycleSummary& summary, double k) const {
    if (!meter || !quantity || !summary.high_level) return std::nullopt;
    const Uncertainty u = uncertainty_of(*meter, *quantity, *summary.high_level, resolution, nullptr, k);
    return u.specified ? std::optional{u.U} : std::nullopt;
  }

  std::optional<Quantity> quantity;
  std::optional<MeterDefinition> meter;
  CycleSettings settings(const std::string& quantity_name) const {
    CycleSettings settings = trace_settings(quantity_name, resolution);
    if (meter) settings.update_s = display_update_s(*meter);
    return settings;
  }

  double resolution = 0.0;
  Survey survey;
  std::unique_ptr<Ear> ear;
  std::unique_ptr<Analyzer> analyzer;
};

}  // namespace

CycleSettings trace_settings(const std::string& quantity, double resolution) {
  CycleSettings settings;
  settings.resolution = resolution;
  if (const auto known = quantity_named(quantity))
    settings.dead_below = dead_below_for("(" + std::string{unit_of(*known)} + ")");
  return settings;
}

std::optional<double> display_update_s(const MeterDefinition& meter) {
  if (!meter.poll || !(meter.update_rate_hz > 0.0)) return std::nullopt;
  const double update_s = 1.0 / meter.update_rate_hz;
  return update_s > meter.poll->every_s ? std::optional{update_s} : std::nullopt;
}

std::optional<Sample> sample_of(const SampleRow& row) {
  switch (row.state) {
    case ReadingState::finite: return Sample{row.t_s, row.value, SampleKind::finite};
    case ReadingState::over_range: return Sample{row.t_s, 0.0, SampleKind::over_range};
    case ReadingState::not_a_number: break;
  }
  return std::nullopt;
}

TraceAnalysis analyze_trace(const Record& record, const ChannelListener& listener) {
  TraceAnalysis analysis;
  analysis.channels.resize(record.channels.size());
  std::vector<Pass> passes;
  std::map<int, std::size_t> index_of;
  for (std::size_t i = 0; i < record.channels.size(); ++i) {
    const TraceChannel& channel = record.channels[i];
    TraceChannelAnalysis& own = analysis.channels[i];
    own.name = channel.name;
    own.quantity = channel.quantity;
    if (const auto quantity = quantity_named(channel.quantity)) own.unit = std::string{unit_of(*quantity)};
    passes.emplace_back(channel);
    index_of[channel.channel] = i;
  }
  const auto each = [&](const auto& take) {
    record.each_sample([&](const SampleRow& row) {
      const auto found = index_of.find(row.channel);
      if (found == index_of.end()) return;
      if (const auto sample = passes[found->second].sample(row)) take(found->second, row, *sample);
    });
  };
  each([&](std::size_t i, const SampleRow& row, const Sample& sample) {
    passes[i].resolution = std::max(passes[i].resolution, row.resolution);
    passes[i].survey.feed(sample);
  });
  for (std::size_t i = 0; i < passes.size(); ++i) {
    Pass& pass = passes[i];
    TraceChannelAnalysis& own = analysis.channels[i];
    pass.survey.set_resolution(pass.resolution);
    own.survey = pass.survey.result();
    own.resolution = pass.resolution;
    pass.ear = std::make_unique<Ear>(own, listener ? listener(i, own, pass.survey) : nullptr);
    pass.analyzer = std::make_unique<Analyzer>(own.survey, pass.settings(own.quantity), pass.ear.get());
  }
  each([&](std::size_t i, const SampleRow&, const Sample& sample) {
    if (passes[i].ear->wants_samples()) passes[i].ear->on_sample(sample);
    passes[i].analyzer->feed(sample);
  });
  for (std::size_t i = 0; i < passes.size(); ++i) analysis.channels[i].summary = passes[i].analyzer->finish();
  if (!record.trace) return analysis;
  try {
    const Profile profile = parse_profile(record.header.profile_text, record.header.profile_id + ".toml");
    std::vector<CyclingChannel> channels;
    for (std::size_t i = 0; i < analysis.channels.size(); ++i) {
      const TraceChannelAnalysis& own = analysis.channels[i];
      const bool any = own.survey.samples > own.survey.over_range + own.survey.under_range;
      channels.push_back({own.name, &own.summary, any ? std::optional{own.survey.min} : std::nullopt,
                          any ? std::optional{own.survey.max} : std::nullopt,
                          passes[i].U_of_level(own.summary, record.header.k), own.unit == "V",
                          rms_of(passes[i].survey.histogram()), role_named(record.channels[i].role), own.unit == "V",
                          own.unit});
    }
    CyclingConditions conditions;
    conditions.supply_v = record.trace->supply_v;
    conditions.load_ohm = record.trace->load_ohm;
    conditions.required = record.header.require;
    conditions.rule = decision_rule(record.header.rule);
    analysis.judgement = judge_cycling(profile, record.trace->position, channels, conditions);
    for (const TraceChannelAnalysis& own : analysis.channels)
      if (own.name == analysis.judgement->load_channel) analysis.operations = own.summary.edges;
    for (const EventRow& event : record.events)
      if (event.kind == calibration_note) analysis.judgement->remarks.push_back(event.text);
  } catch (const Error&) {
    analysis.judgement.reset();
  }
  return analysis;
}

}  // namespace switchwright
