// One test, kept. This is the data a report is made from; the store writes it piece by piece as it happens.
#pragma once

#include <cstdint>
#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "switchwright/core/clock.hpp"
#include "switchwright/core/reading.hpp"
#include "switchwright/judge/finding.hpp"
#include "switchwright/judge/indication.hpp"
#include "switchwright/record/lot.hpp"
#include "switchwright/record/record_kind.hpp"
#include "switchwright/record/work_result.hpp"

namespace switchwright {

/// What a claim names beside the part itself, as somebody stated it; each may be empty.
struct Claim {
  std::string order;             ///< work order or claim number
  std::string appliance;         ///< model of the appliance that the part was pulled from
  std::string appliance_serial;  ///< its serial number
  std::string date_code;         ///< of the part, as printed on it
  std::string supplier;          ///< who sold the part
  std::string lot;               ///< the supplier's lot or batch
  std::string remark;            ///< what the customer said
  friend bool operator==(const Claim&, const Claim&) = default;
};

/// Everything that is known before the first step.
struct RecordHeader {
  std::string id;  ///< assigned by the store: sortable by time, unique ("20260301-091502-7f3a")
  RecordKind kind = RecordKind::qualify;
  Wall started{};
  std::string tool_version;
  std::string operator_name;  ///< who; may be empty, and the report says so
  std::string part;
  std::string serial;
  std::string profile_id;
  std::string profile_title;
  std::string profile_values;  ///< the profile's own word on where its numbers come from
  std::string profile_text;    ///< the TOML as used
  std::string meter_id;
  std::string meter_title;
  std::string meter_text;
  std::string meter_serial;
  std::string meter_calibrated;  ///< date, or empty: unknown
  std::string port;
  std::string hands;         ///< "person", "simulator", "scanner"
  std::string rule;          ///< decision rule
  std::string plan;          ///< "short", "adaptive"; empty: the full plan
  std::string stated_range;  ///< what the operator states about the meter's range: "auto", "40Mohm"; may be empty
  std::optional<double> ambient_c;  ///< air around the meter, degrees Celsius, as stated
  ScopeParts require;               ///< what must be decided for a pass, beyond what the work asks by itself
  double k = 2.0;
  bool simulated = false;  ///< measured on the simulator: every report says so
  Claim claim = {};
  std::optional<int> utc_offset_min =
      std::nullopt;       ///< the bench's clock on the wall when the record began; absent: unknown
  std::string zone = {};  ///< what that time is called there: "CET"; may be empty
};

/// What happened, in order. Steps are numbered from 1 in the order shown.
struct StepRow {
  int step = 0;
  std::string kind;        ///< "prove-meter", "absence-of-voltage", "leads", "measure", ...
  std::string pair_first;  ///< terminals, empty where the step has no pair
  std::string pair_second;
  std::string position;
  std::string instruction;
  Wall at{};
  int placement = 0;  ///< which placement of the probes it belongs to, from 1; 0: none, or an older version wrote it
};
struct ReadingRow {
  int step = 0;
  Reading reading;
};
struct IndicationRow {
  int step = 0;
  int attempt = 1;  ///< a redone step counts up; the last one counts
  Indication indication;
  bool contact_stated = false;
  int placement = 0;  ///< as of the step
};
struct EventRow {
  Wall at{};
  std::string kind;  ///< "link-lost", "skipped", "resumed", ...
  std::string text;
  int placement = 0;  ///< "reseated": what was read in it until then does not count
};
struct Acknowledgement {
  Wall at{};
  std::string what;  ///< "de-energised"
  std::string who;
  std::string how;   ///< "typed at the terminal", "option --acknowledge"
  std::string text;  ///< the words that were acknowledged
};

/// The conditions of a trace, as stated before it began.
struct TraceSetup {
  std::string position;
  std::string setting;             ///< how the knob stands, in words
  std::optional<double> supply_v;  ///< as stated; a line channel measures it
  std::string load;                ///< as written: "2800W@240"
  std::optional<double> load_ohm;
  std::optional<double> ambient_c;
};
/// One meter of a trace. A later row with the same number completes an earlier one.
struct TraceChannel {
  int channel = 0;  ///< from 1
  std::string name;
  std::string quantity;  ///< as readings name it; empty until the first sample
  std::string meter_id;
  std::string meter_title;
  std::string meter_text;  ///< with this meter's corrections, as they are applied
  std::string port;
  std::string meter_serial;      ///< may be empty, and the report says so
  std::string meter_calibrated;  ///< date, certificate, due date; empty: unknown
  std::string role;              ///< "load", "pilot", "line", "other", as stated; empty: as the name says
};
/// One sample of a trace, on the monotonic axis that starts with the record.
struct SampleRow {
  int channel = 0;
  double t_s = 0.0;
  ReadingState state = ReadingState::finite;
  double value = 0.0;       ///< SI unit of the channel's quantity, when finite
  double resolution = 0.0;  ///< one digit of the display; 0: unknown
  std::string raw;          ///< the frame as it came
};
/// The samples of a kept trace, read where they are kept: a day of them is no burden on memory.
class SampleSource {
 public:
  virtual ~SampleSource() = default;
  /// One after another in the order of their arrival; may be asked again. @throws Error(store).
  virtual void each(const std::function<void(const SampleRow&)>& take) const = 0;
};
/// What is written together, and what a record is made of: the store, the rescue file and JSON share it.
struct Batch {
  std::vector<StepRow> steps;
  std::vector<ReadingRow> readings;
  std::vector<IndicationRow> indications;
  std::vector<EventRow> events;
  std::vector<Acknowledgement> acknowledgements;
  std::vector<StatedResult> stated;  ///< what other instruments showed, as somebody entered it
  std::optional<Indication> leads_before;
  std::optional<Indication> leads_after;
  std::optional<Verdict> verdict;  ///< closes the record; absent in a record: unfinished
  std::optional<Wall> ended;
  std::optional<TraceSetup> trace;  ///< kind "trace" only, as are the next two
  std::vector<TraceChannel> channels;
  std::vector<SampleRow> samples;   ///< of a record that is not in a store: see each_sample
  std::vector<WorkResult> results;  ///< what it amounted to, and what it was to be
  std::optional<LotOpening> lot;    ///< kind "lot" only, as are the next three
  std::vector<LotUnitRow> lot_units;
  std::vector<BenchCheckRow> bench_checks;
  std::vector<LotDecisionRow> lot_decisions;  ///< the last one counts

  bool empty() const;
  /// Puts a later batch after this one; of what stands once the later one counts.
  void add(Batch later);
};

struct Record : Batch {
  RecordHeader header;
  std::shared_ptr<const SampleSource> stored_samples;
  std::string chain_head;  ///< SHA-256, hex, of the last batch
  std::int64_t batches = 0;
  /// Empty: what is here is what was written. Else one sentence on where chain and store no longer agree; what is here is
  /// then what the chain says, and nobody should rely on it.
  std::string chain_fault;

  /// Every sample, wherever they are kept. @throws Error(store).
  void each_sample(const std::function<void(const SampleRow&)>& take) const {
    if (stored_samples)
      stored_samples->each(take);
    else
      for (const SampleRow& sample : samples) take(sample);
  }
};

/// A line of the list of records.
struct RecordSummary {
  std::string id;
  RecordKind kind = RecordKind::qualify;
  Wall started{};
  std::string part;
  std::string serial;
  std::string profile_id;
  std::string meter_id;
  std::string operator_name;
  std::string outcome;  ///< "pass", "fail", "undecided", "unfinished"; "learned" of a part that was learned
  bool simulated = false;
  std::optional<Scope> scope = std::nullopt;  ///< of the verdict; absent without one, and in records of older versions
  std::string chain_fault = {};               ///< as Record::chain_fault, for what this line shows
  Claim claim = {};
  std::string fault = {};  ///< the most probable explanation of what deviates: "stuck-closed:cycling"; may be empty
};

}  // namespace switchwright
