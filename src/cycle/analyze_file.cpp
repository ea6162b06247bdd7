#include "switchwright/cycle/analyze_file.hpp"

#include <memory>

#include "switchwright/core/error.hpp"

namespace switchwright {

namespace {

struct SurveySink final : SampleSink {
  std::vector<Survey> surveys;
  void take(std::size_t channel, std::span<const Sample> samples) override {
    Survey& survey = surveys[channel];
    for (const Sample& sample : samples) survey.feed(sample);
  }
};

struct AnalyzerSink final : SampleSink {
  std::vector<std::unique_ptr<Analyzer>> analyzers;
  std::vector<SeriesListener*> listeners;  ///< those that want samples
  void take(std::size_t channel, std::span<const Sample> samples) override {
    Analyzer& analyzer = *analyzers[channel];
    if (SeriesListener* listener = listeners[channel])
      for (const Sample& sample : samples) listener->on_sample(sample);
    for (const Sample& sample : samples) analyzer.feed(sample);
  }
};

}  // namespace

FileResult analyze_file(const std::filesystem::path& path, const CycleSettings& settings,
                        std::optional<double> time_unit_s, const ListenerFor& listener_for) {
  SeriesFile file(path, SeriesFile::default_block_bytes, time_unit_s);
  const std::vector<std::string>& names = file.layout().channels;
  std::vector<CycleSettings> own(names.size(), settings);
  SurveySink first;
  for (std::size_t i = 0; i < names.size(); ++i) {
    if (!own[i].dead_below) own[i].dead_below = dead_below_for(names[i]);
    first.surveys.emplace_back(own[i]);
  }
  file.read(first);

  FileResult result;
  result.layout = file.layout();
  result.rows = file.rows();
  result.bad_rows = file.bad_rows();
  result.span_s = file.span_s();
  result.first_bad_rows = file.first_bad_rows();
  AnalyzerSink second;
  for (std::size_t i = 0; i < names.size(); ++i) {
    Survey& survey = first.surveys[i];
    if (own[i].resolution <= 0.0) own[i].resolution = file.resolution(i);
    survey.set_resolution(own[i].resolution);
    result.channels.push_back({names[i], {}, survey.result()});
    SeriesListener* listener = listener_for ? listener_for(i, names[i], survey) : nullptr;
    second.listeners.push_back(listener != nullptr && listener->wants_samples() ? listener : nullptr);
    second.analyzers.push_back(std::make_unique<Analyzer>(result.channels.back().survey, own[i], listener));
  }
  file.read(second);
  for (std::size_t i = 0; i < names.size(); ++i) result.channels[i].summary = second.analyzers[i]->finish();
  return result;
}

}  // namespace switchwright
