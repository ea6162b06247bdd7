// A kept trace told: from the results that it ended with, against what its samples give.
#include <fmt/format.h>

#include <cmath>

#include "switchwright/analysis/trace_analysis.hpp"

namespace switchwright {

namespace {

/// Another processor may round the last digits of a sum otherwise.
bool same(double a, double b) { return std::abs(a - b) <= 1e-9 * std::max(std::abs(a), std::abs(b)); }

std::string figure_words(const std::optional<double>& value) { return value ? fmt::format("{:.9g}", *value) : "none"; }

class Comparison {
 public:
  explicit Comparison(std::vector<std::string>& differences) : differences_(differences) {}

  void figure(const std::string& what, const std::optional<double>& kept, const std::optional<double>& computed) {
    if (kept.has_value() == computed.has_value() && (!kept || same(*kept, *computed))) return;
    say(what, figure_words(kept), figure_words(computed));
  }
  void word(const std::string& what, const std::string& kept, const std::string& computed) {
    if (kept != computed) say(what, kept, computed);
  }
  void channel(const std::string& name, const CycleSummary& kept, const CycleSummary& computed) {
    word("the state of " + name, to_string(kept.state), to_string(computed.state));
    word("the number of complete cycles of " + name, std::to_string(kept.complete_cycles),
         std::to_string(computed.complete_cycles));
    figure("the on time of " + name, kept.all.on_s.mean, computed.all.on_s.mean);
    figure("the off time of " + name, kept.all.off_s.mean, computed.all.off_s.mean);
    figure("the period of " + name, kept.all.period_s.mean, computed.all.period_s.mean);
    figure("the duty of " + name, kept.all.duty.mean, computed.all.duty.mean);
  }

 private:
  void say(const std::string& what, const std::string& kept, const std::string& computed) {
    differences_.push_back(fmt::format(
        "Kept when the trace ended, {} is {}; this version computes {} from the same samples.", what, kept, computed));
  }
  std::vector<std::string>& differences_;
};

}  // namespace

TraceAnalysis reported_trace(const Record& record, const ChannelListener& listener) {
  TraceAnalysis analysis = analyze_trace(record, listener);
  Comparison comparison(analysis.differences);
  for (const WorkResult& result : record.results) {
    const auto* kept = std::get_if<ChannelSummary>(&result.value);
    if (!kept) continue;
    for (TraceChannelAnalysis& own : analysis.channels)
      if (own.name == kept->channel) own.kept = kept->summary;
  }
  for (const TraceChannelAnalysis& own : analysis.channels)
    if (own.kept) comparison.channel(own.name, *own.kept, own.summary);
  if (const auto* kept = last_of<TraceVerdict>(record.results)) {
    if (analysis.judgement)
      comparison.word("the verdict", to_string(kept->judgement.outcome), to_string(analysis.judgement->outcome));
    analysis.judgement = kept->judgement;
    analysis.life = kept->life;
  }
  return analysis;
}

}  // namespace switchwright
