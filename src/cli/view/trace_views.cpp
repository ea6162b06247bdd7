#include "cli/view/trace_views.hpp"

#include <fmt/format.h>

#include "cli/output.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/report/cycling.hpp"

namespace switchwright::cli {

namespace {

class JsonView final : public TraceView {
 public:
  void on(const TraceEvent& event, Instant at) override {
    const std::string lines = to_json(event, at);
    if (!lines.empty()) put_line(lines);
  }
};

/// A line per cycle and per thing that a person must know.
class LineView final : public TraceView {
 public:
  void on(const TraceEvent& event, Instant) override {
    if (const auto* e = std::get_if<TraceOpened>(&event)) open(*e);
    if (const auto* e = std::get_if<TraceAcknowledged>(&event))
      put_line(fmt::format("  energised work: acknowledged by {}",
                           e->acknowledgement.who.empty() ? "(no name given)" : terminal_safe(e->acknowledgement.who)));
    if (const auto* e = std::get_if<ChannelKnown>(&event))
      put_line(fmt::format("  {}: first sample, {}", terminal_safe(e->channel.name), e->channel.quantity));
    if (const auto* e = std::get_if<CycleSeen>(&event))
      put_line(fmt::format("  {} cycle {:3}: on {}, off {}, duty {:.1f} %", terminal_safe(e->name), e->cycle.index,
                           human_seconds(e->cycle.on_s), human_seconds(e->cycle.off_s), 100.0 * e->cycle.duty));
    if (const auto* e = std::get_if<Reconsidered>(&event))
      put_line("  " + terminal_safe(e->name) + ": the levels were mistaken at first, its cycles are counted again");
    if (const auto* e = std::get_if<TraceLink>(&event))
      if (e->change.state == LinkState::lost || e->change.state == LinkState::silent)
        put_line("  " + terminal_safe(e->name) + ": " + terminal_safe(e->change.detail));
    if (const auto* e = std::get_if<TraceNote>(&event))
      put_line((e->kind == "overdue" ? "  TOO LONG: " : "  note: ") + terminal_safe(e->text));
    if (const auto* e = std::get_if<TraceEnded>(&event)) put_line(e->text);
    if (const auto* e = std::get_if<TraceJudged>(&event)) put("\n" + judged_words(*e));
  }

 private:
  static void open(const TraceOpened& e) {
    put_line(fmt::format("Tracing {} {} as {} at {}", e.header.part.empty() ? "a part" : terminal_safe(e.header.part),
                         terminal_safe(e.header.serial), e.header.profile_id, e.setup.position));
    put_line("  profile values: " + terminal_safe(e.header.profile_values));
    for (const TraceChannel& channel : e.channels)
      put_line(fmt::format("  {}: meter {} at {}", terminal_safe(channel.name), channel.meter_id,
                           terminal_safe(channel.port)));
    for (const TraceChannel& channel : e.channels)
      if (channel.role == "other") put_line("  note: " + terminal_safe(channel.name) + " is recorded, not judged");
    for (const std::string& warning : e.warnings) put_line("  note: " + warning);
  }
};

}  // namespace

std::unique_ptr<TraceView> make_trace_json_view() { return std::make_unique<JsonView>(); }
std::unique_ptr<TraceView> make_trace_line_view() { return std::make_unique<LineView>(); }

std::string judged_words(const TraceJudged& event) {
  std::string text;
  for (const TraceChannelAnalysis& channel : event.analysis->channels)
    text += summary_text(channel.name, channel.unit, channel.summary) + "\n";
  if (event.analysis->judgement) text += judgement_text(*event.analysis->judgement, event.life);
  return text + coverage_words() + "\n";
}

}  // namespace switchwright::cli
