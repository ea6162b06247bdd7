// Cycle timing as JSON: the same for `analyze`, for the end of a trace and for the report of a record.
//
// JSON (one object per line, durations in seconds, duty as a fraction; what is not known is absent, never 0):
//   cycle    type, channel, index, start_s, on_s, off_s, period_s, duty; flags "blips" and "has_gap" when they apply
//   summary  type, channel, samples, gaps, complete_cycles, low_level, high_level, on_s, off_s, period_s, duty,
//            steady_from_cycle, state; further: trust, reasons, notes, steady {...}, drift, events ...
//   verdict  type, verdict, headline, timing findings, channel findings, faults, versions, remarks
#pragma once

#include <cstdint>
#include <map>
#include <optional>
#include <string>

#include "switchwright/analysis/event_log.hpp"
#include "switchwright/cycle/analyze_file.hpp"
#include "switchwright/judge/cycling.hpp"

namespace switchwright {

// One JSON object each, without a line end.
std::string cycle_json(const std::string& channel, const Cycle& cycle);
/// @param further keys with numbers to add ("rows", "bad_rows")
std::string summary_json(const std::string& channel, const CycleSummary& summary, const CycleEventLog* events = nullptr,
                         const std::map<std::string, std::uint64_t>& further = {});
std::string verdict_json(const CyclingJudgement& judgement, const std::string& position,
                         const std::optional<Life>& life = std::nullopt, const std::string& record_id = {});

}  // namespace switchwright
