// What a piece of work amounted to, as the program knows it: judged once, when the work ends, and reported from what was kept.
// As text it exists at the edges only: in a row of the store, in a bag, on --json (record/result_json.hpp writes and reads it).
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <variant>

#include "switchwright/cycle/summary.hpp"
#include "switchwright/judge/contact_drop.hpp"
#include "switchwright/judge/cycling.hpp"
#include "switchwright/judge/event_log.hpp"
#include "switchwright/learn/learn.hpp"

namespace switchwright {

/// Of a trace: one channel's figures.
struct ChannelSummary {
  std::string channel;
  CycleSummary summary;
  CycleEventLog events;
};
/// Of a trace: how it was judged.
struct TraceVerdict {
  CyclingJudgement judgement;
  std::string position;
  std::optional<Life> life;
  std::string record_id;
};
/// Of a learning: the network, and the profile that was made of it.
struct LearnedPart {
  Learned learned;
  std::string profile;  ///< TOML
};
/// Of a unit's record: the place in the lot that it was begun for.
struct LotUnitSetup {
  struct Leads {
    double ohm = 0.0;
    double resolution_ohm = 0.0;
  };
  std::string lot;
  std::string lot_number;
  int place = 0;
  int unit = 0;
  std::optional<Leads> leads;  ///< as they stand from the unit before
};
/// Of the check of a bench: the lot that it belongs to.
struct BenchCheckSetup {
  std::string lot;
};
/// Written by another version, or not to be read: it stays as it was kept.
struct UnknownResult {};

using ResultValue = std::variant<UnknownResult, ChannelSummary, TraceVerdict, DropTask, LearnSubject, LotUnitSetup,
                                 BenchCheckSetup, ContactDrop, LearnedPart>;

struct WorkResult {
  std::string kind;             ///< trace: "summary", "verdict"; "setup"; "drop"; "learned". Persistent.
  std::string channel;          ///< trace: name, for the verdict that of the load; drop: the contact; else empty
  std::int64_t operations = 0;  ///< switching operations seen on that channel
  ResultValue value;
  std::string kept;  ///< the line as it stands in the store or a bag; empty: nobody has kept it yet
};
WorkResult result_of(ChannelSummary value);
WorkResult result_of(TraceVerdict value);
WorkResult result_of(DropTask value);
WorkResult result_of(LearnSubject value);
WorkResult result_of(LotUnitSetup value);
WorkResult result_of(BenchCheckSetup value);
WorkResult result_of(ContactDrop value);
WorkResult result_of(LearnedPart value);

/// The last value of a kind among the results of a record; nullptr when there is none.
template <class Value, class Results>
const Value* last_of(const Results& results) {
  const Value* found = nullptr;
  for (const WorkResult& result : results)
    if (const auto* value = std::get_if<Value>(&result.value)) found = value;
  return found;
}

}  // namespace switchwright
