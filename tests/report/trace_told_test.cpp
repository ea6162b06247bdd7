// A trace is judged once, when it ends, and told from what was kept then; its samples are the check of it.
#include <doctest/doctest.h>

#include <cmath>

#include "bagged.hpp"
#include "switchwright/analysis/trace_analysis.hpp"
#include "switchwright/profile/library.hpp"
#include "switchwright/report/exporter.hpp"

namespace switchwright {
namespace {

/// Half an hour of a load that is on for 12 s and off for 20 s, as computed from its own samples.
Record ended_trace(void (*change)(ChannelSummary&, TraceVerdict&)) {
  Record record;
  record.header = example::header();
  record.header.kind = RecordKind::trace;
  const Profile profile = load_profile("regulator-shunt-240", {SOURCE_DIR "/profiles"});
  record.header.profile_id = profile.id;
  record.header.profile_text = profile.source_text;
  record.trace = TraceSetup{"low", "", 240.0, "", {}, {}};
  record.channels.push_back({1, "load", "voltage-ac", "made-up", "", "", "", "", "", "load"});
  for (int i = 0; i < 4 * 1800; ++i) {
    const double t_s = 0.25 * i;
    record.samples.push_back({1, t_s, ReadingState::finite, std::fmod(t_s, 32.0) < 12.0 ? 240.0 : 0.1, 0.1, ""});
  }
  const TraceAnalysis analysis = analyze_trace(record);
  REQUIRE(analysis.judgement);
  ChannelSummary summary{"load", analysis.channels.front().summary, {}};
  TraceVerdict verdict{*analysis.judgement, "low", Life{7, 5, 1, 100.0}, "made-up"};
  change(summary, verdict);
  record.results = {result_of(summary), result_of(verdict)};
  return record;
}

std::string text_of(const Record& record) { return make_exporter("text")->render(record); }

}  // namespace

TEST_CASE("a trace whose samples give what was kept is told without a word about it") {
  const Record record = ended_trace([](ChannelSummary&, TraceVerdict&) {});
  CHECK(reported_trace(record).differences.empty());
  const std::string text = text_of(record);
  CHECK(text.find("Kept when the trace ended") == std::string::npos);
  CHECK(text.find("37.5") != std::string::npos);  // 12 s of 32 s, per cent
}

TEST_CASE("figures are told as kept, and where the samples give others the report says so") {
  const Record record = ended_trace([](ChannelSummary& summary, TraceVerdict& verdict) {
    summary.summary.all.duty.mean = 0.625;
    summary.summary.steady.duty.mean = 0.625;
    verdict.judgement.headline = "As it was said when the trace ended.";
    verdict.judgement.outcome = verdict.judgement.outcome == Outcome::fail ? Outcome::undecided : Outcome::fail;
  });
  const TraceAnalysis told = reported_trace(record);
  CHECK(told.channels.front().told().all.duty.mean == 0.625);
  REQUIRE(told.differences.size() == 2);
  CHECK(told.differences[0].find("duty of load is 0.625") != std::string::npos);
  CHECK(told.differences[0].find("0.375") != std::string::npos);
  CHECK(told.differences[1].find("the verdict is") != std::string::npos);
  const std::string text = text_of(record);
  CHECK(text.find("62.5") != std::string::npos);
  CHECK(text.find("As it was said when the trace ended.") != std::string::npos);
  CHECK(text.find("Kept when the trace ended") != std::string::npos);
}

TEST_CASE("a trace that did not end is told from its samples") {
  Record record = ended_trace([](ChannelSummary&, TraceVerdict&) {});
  record.results.clear();
  const TraceAnalysis told = reported_trace(record);
  CHECK(told.differences.empty());
  CHECK(told.judgement);
  CHECK(std::abs(*told.channels.front().told().all.duty.mean - 0.375) < 0.001);
}

}  // namespace switchwright
