// What guided work is done with, as a page asks for it or as an unfinished record was begun with.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "page/lot_unit.hpp"
#include "page/work.hpp"
#include "switchwright/bench/cold_record.hpp"
#include "switchwright/bench/drop.hpp"
#include "switchwright/judge/stated.hpp"

namespace switchwright::page {

struct GuidedChoice {
  std::string kind;  ///< "qualify", "qualify-powered", "powered", "drop"
  std::string part, serial, operator_name, port, plan, own, range;
  Profile profile;
  MeterDefinition meter;
  std::optional<Record> earlier;
  std::optional<DropTask> drop;
  std::optional<ColdProof> cold;
  std::vector<StatedResult> stated;
  std::optional<LotUnit> lot;  ///< the part is a unit of a lot
  Json purpose;                ///< the command, for what put_purpose reads
  bool by_itself = false;      ///< simulated hands
  bool live_moves = false;
};

/// @throws Error, Refusal in a sentence for the person.
GuidedChoice guided_choice(const WorkPlace& place, const Json& command);

}  // namespace switchwright::page
