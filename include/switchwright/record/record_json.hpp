// One record and its parts as JSON: the shape that is hashed, stored, exported and published as a JSON
// Schema. Rule throughout: what is not known is absent; it is never an empty text, a zero or a null. The
// spellings here are on disk and in published files: do not change them.
#pragma once

#include <nlohmann/json_fwd.hpp>
#include <string>

#include "switchwright/record/record.hpp"
#include "switchwright/record/store.hpp"

namespace switchwright {

/// The version of the JSON shape ("schema_version" in the export).
inline constexpr int record_json_version = 1;

/// Turns this process's monotonic clock into seconds since the start of the record, and back.
struct TimeBase {
  Wall started{};    ///< wall time at 0 s
  Monotonic zero{};  ///< monotonic time at 0 s
};

nlohmann::json header_json(const RecordHeader& header);
/// One batch without its place in the chain. Empty parts are absent.
nlohmann::json batch_json(const Batch& batch, const TimeBase& base);
/// The whole record, for export. Lists are always there, if empty. Expects a record as Store::load gives it.
nlohmann::json record_json(const Record& record);

RecordHeader header_from_json(const nlohmann::json& json);
/// What of a batch is wanted; the readings and samples of a long record are many.
struct Wanted {
  bool readings = true;
  bool samples = true;
};
/// Adds what a link holds to a batch or record; of the lead checks and verdicts the last one counts.
void add_batch_json(const nlohmann::json& json, Wall started, Batch& batch, Wanted wanted = {});

/// The parts of a batch that only a trace has.
void put_trace(nlohmann::json& object, const Batch& batch);
void add_trace_json(const nlohmann::json& json, Batch& batch, Wanted wanted);
nlohmann::json sample_json(const SampleRow& sample);

// The words on disk, also used in reports.
std::string word_for(PairState state);
std::string word_for(VoltageState state);
std::string word_for(Outcome outcome);
std::string word_for(DeviationKind kind);
std::string word_for(Severity severity);
std::string word_for(Witness witness);
std::string word_for(ReadingState state);
std::vector<std::string> words_for(const ReadingFlags& flags);

}  // namespace switchwright
