// What stays the same on the bench from unit to unit of a lot: profile, meter, who works, how it is settled and judged.
#pragma once

#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "cli/guided_run.hpp"
#include "cli/options/lot_options.hpp"
#include "switchwright/explain/diagnosis.hpp"
#include "switchwright/meter/own.hpp"

namespace switchwright::cli {

struct LotBench {
  Store& store;
  LotRunOptions options;  ///< as completed by answers
  std::string lot_id;
  LotOpening opening;
  RecordHeader lot_header;
  Profile profile;
  MeterDefinition meter;
  std::optional<OwnMeter> own;
  std::vector<std::string> meter_remarks;
  std::shared_ptr<const Knowledge> knowledge;

  bool simulated() const { return options.hands.starts_with("sim:"); }
  /// Somebody can be asked.
  bool attended() const;
  bool parts_are_new() const { return opening.condition == "new"; }
};

/// Everything that is chosen once. @throws Error(usage) that names the option for what is missing without a terminal.
LotBench lot_bench(Store& store, const LotRunOptions& options, const Record& lot);

/// Header, hands, port, view and settings of one session; profile, kind and plan are the caller's.
GuidedWork work_on(const LotBench& bench, const Profile& profile, RecordKind kind);

/// Has the hands put a unit on the bench. @returns what they have read on its label; empty where nobody has looked.
std::string put_on_bench(const LotBench& bench, int unit);

}  // namespace switchwright::cli
