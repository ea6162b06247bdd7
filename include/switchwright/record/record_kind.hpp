// What a record is of. Whatever differs from kind to kind stands in one table, so that a new kind is one line here and the
// work itself.
#pragma once

#include <array>
#include <optional>
#include <stdexcept>
#include <string>
#include <string_view>

namespace switchwright {

enum class RecordKind {
  qualify,          ///< continuity without power
  qualify_powered,  ///< continuity, then volts
  powered,          ///< volts alone
  trace,            ///< cycling under power
  learn,            ///< a good part, whose profile is wanted
  drop,             ///< millivolts across closed contacts
  practice,         ///< training: no part was tested
  lot,              ///< a lot: its plan, its units, its decision
  bench_check,      ///< a reference resistor set, read before a shift
};

struct RecordKindFacts {
  RecordKind kind;
  const char* word;    ///< in records and JSON. On disk: do not change.
  bool qualifies;      ///< made by qualify, and gone on with by it
  bool proves_cold;    ///< a pass lets the part be energised
  bool reads_pairs;    ///< resistances of pairs at positions are asked for
  bool has_leads;      ///< a lead check belongs to it
  bool has_one_meter;  ///< the header names the meter; else each channel does
  bool is_evidence;    ///< may be sealed in a bag
  bool goes_unsaid;    ///< a list need not name the kind
};

inline constexpr std::array record_kinds{
    //              kind                         word           qualifies cold   pairs  leads  meter  evidence unsaid
    RecordKindFacts{RecordKind::qualify, "qualify", true, true, true, true, true, true, true},
    RecordKindFacts{RecordKind::qualify_powered, "qualify-powered", true, true, true, true, true, true, true},
    RecordKindFacts{RecordKind::powered, "powered", true, false, false, false, true, true, true},
    RecordKindFacts{RecordKind::trace, "trace", false, false, true, false, false, true, false},
    RecordKindFacts{RecordKind::learn, "learn", false, false, true, true, true, true, false},
    RecordKindFacts{RecordKind::drop, "drop", false, false, true, false, true, true, false},
    RecordKindFacts{RecordKind::practice, "practice", false, false, true, true, true, false, false},
    RecordKindFacts{RecordKind::lot, "lot", false, false, false, false, true, true, false},
    RecordKindFacts{RecordKind::bench_check, "bench-check", false, false, true, true, true, false, false},
};

constexpr const RecordKindFacts& facts_of(RecordKind kind) { return record_kinds[static_cast<std::size_t>(kind)]; }
inline std::string to_string(RecordKind kind) { return facts_of(kind).word; }
inline std::optional<RecordKind> record_kind_named(std::string_view word) {
  for (const RecordKindFacts& facts : record_kinds)
    if (word == facts.word) return facts.kind;
  return std::nullopt;
}

}  // namespace switchwright
