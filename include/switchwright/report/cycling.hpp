// Cycle timing in words and as JSON: the same for `analyze`, for the end of a trace and for the report of a record.
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
#include <vector>

#include "switchwright/cycle/analyze_file.hpp"
#include "switchwright/verify/cycling.hpp"

namespace switchwright {

/// What happened on a channel, counted, the first ones kept.
class CycleEventLog {
 public:
  static constexpr std::size_t most_kept = 100;
  void add(const CycleEvent& event);
  void clear();
  const std::vector<CycleEvent>& first() const { return first_; }
  std::uint64_t count() const { return count_; }

 private:
  std::vector<CycleEvent> first_;
  std::uint64_t count_ = 0;
};

/// Operations counted on one serial number against what the maker declares.
struct Life {
  std::uint64_t operations = 0;         ///< in this trace
  std::uint64_t operations_before = 0;  ///< in earlier records of the same serial number
  std::uint64_t records_before = 0;
  std::optional<double> endurance_operations;
  std::uint64_t total() const { return operations + operations_before; }
};

// One JSON object each, without a line end.
std::string cycle_json(const std::string& channel, const Cycle& cycle);
/// @param further keys with numbers to add ("rows", "bad_rows")
std::string summary_json(const std::string& channel, const CycleSummary& summary,
                         const CycleEventLog* events = nullptr,
                         const std::map<std::string, std::uint64_t>& further = {});
std::string verdict_json(const CyclingJudgement& judgement, const std::string& position,
                         const std::optional<Life>& life = std::nullopt, const std::string& record_id = {});

// Plain lines for people, each with its line end. Text from outside is made safe for a terminal.
/// @param unit of the channel's values; may be empty.
std::string summary_text(const std::string& channel, const std::string& unit, const CycleSummary& summary);
std::string judgement_text(const CyclingJudgement& judgement, const std::optional<Life>& life = std::nullopt);
/// "12.42 s +/- 0.15 s": both rounded to two significant figures of U (JCGM 100 7.2.6).
std::string with_uncertainty(double value, const std::optional<double>& U, const std::string& unit);

}  // namespace switchwright
