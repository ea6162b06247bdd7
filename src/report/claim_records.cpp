#include <fmt/format.h>

#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/report/claim.hpp"

namespace switchwright {

namespace {

/// A part that one of them does not name is no other part.
bool is_one_part(const std::string& a, const std::string& b) { return a.empty() || b.empty() || same_tag(a, b); }

}  // namespace

std::string claim_partner(const Store& store, const RecordHeader& header) {
  const bool trace_wanted = header.kind != RecordKind::trace;
  if (header.serial.empty())
    throw Error(ErrorKind::usage, "record " + header.id + " has no serial number, so nothing says what belongs to it",
                store.path().string(), "name the other record: report " + header.id + " OTHER --kind claim");
  std::string partner;
  store.walk_serial(header.serial, [&](const RecordSummary& other) {
    if (other.serial == header.serial && other.profile_id == header.profile_id &&
        is_one_part(other.part, header.part) && (other.kind == RecordKind::trace) == trace_wanted &&
        facts_of(other.kind).is_evidence && other.kind != RecordKind::lot && other.simulated == header.simulated &&
        other.outcome != "unfinished" && other.kind != RecordKind::learn && other.kind != RecordKind::drop)
      partner = other.id;
    return partner.empty();
  });
  if (!partner.empty()) return partner;
  throw Error(ErrorKind::usage,
              std::string("there is no finished ") + (trace_wanted ? "trace" : "qualification") + " of serial number " +
                  terminal_safe(header.serial) + " as " + terminal_safe(header.profile_id),
              store.path().string(), "make one, or take the report without --kind claim");
}

void require_one_piece(const RecordHeader& one, const RecordHeader& other) {
  const char* differs = one.serial.empty() || !same_tag(one.serial, other.serial) ? "serial numbers"
                        : !is_one_part(one.part, other.part)                      ? "parts"
                        : one.profile_id != other.profile_id                      ? "profiles"
                        : one.simulated != other.simulated                        ? "benches (one is simulated)"
                                                                                  : nullptr;
  if (differs != nullptr)
    throw Error(
        ErrorKind::usage,
        fmt::format("the two records are of different {}, or do not say, so they make no claim together", differs),
        one.id + ", " + other.id, "compare them with --kind comparison");
}

std::vector<Record> claim_records(const Store& store, Record record) {
  Record other = store.load(claim_partner(store, record.header), true);
  const bool swap = record.header.kind == RecordKind::trace;
  std::vector<Record> both;
  both.push_back(swap ? std::move(other) : std::move(record));
  both.push_back(swap ? std::move(record) : std::move(other));
  return both;
}

}  // namespace switchwright
