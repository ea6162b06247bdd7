// What work amounted to, as JSON and back: the one codec for the rows of the store, for bags, for --json and for `analyze`.
//
// JSON (one object per line, durations in seconds, duty as a fraction; what is not known is absent, never 0). All fields:
// src/record/FIELDS.md.
//   cycle    type, channel, index, start_s, on_s, off_s, period_s, duty; flags "blips" and "has_gap" when they apply
//   summary  type, channel, samples, gaps, complete_cycles, low_level, high_level, on_s, off_s, period_s, duty,
//            steady_from_cycle, state; further: trust, reasons, notes, steady {...}, drift, events ...
//   verdict  type, verdict, headline, timing findings, channel findings, faults, versions, remarks
//   setup    what was to be measured or learned, or the place in a lot
//   drop     one contact's millivolt drop
//   learned  the network and the profile that was made of it
#pragma once

#include <cstdint>
#include <map>
#include <nlohmann/json_fwd.hpp>
#include <optional>
#include <string>

#include "switchwright/cycle/analyze_file.hpp"
#include "switchwright/record/work_result.hpp"

namespace switchwright {

// One JSON object each, without a line end.
std::string cycle_json(const std::string& channel, const Cycle& cycle);
/// @param further keys with numbers to add ("rows", "bad_rows")
std::string summary_json(const std::string& channel, const CycleSummary& summary, const CycleEventLog* events = nullptr,
                         const std::map<std::string, std::uint64_t>& further = {});
std::string verdict_json(const CyclingJudgement& judgement, const std::string& position,
                         const std::optional<Life>& life = std::nullopt, const std::string& record_id = {});
nlohmann::ordered_json drop_json(const ContactDrop& drop);

/// The line of a result: as it was kept, or as it will be.
std::string result_line(const WorkResult& result);
/// A row of the store or a bag. What cannot be read is an UnknownResult, and its line stays.
WorkResult read_result(std::string kind, std::string channel, std::int64_t operations, std::string line);

}  // namespace switchwright
