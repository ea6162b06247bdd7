#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/report/claim.hpp"

namespace switchwright {

std::string claim_partner(const Store& store, const RecordHeader& header) {
  const bool trace_wanted = header.kind != RecordKind::trace;
  if (header.serial.empty())
    throw Error(ErrorKind::usage, "record " + header.id + " has no serial number, so nothing says what belongs to it",
                store.path().string(), "name the other record: report " + header.id + " OTHER --kind claim");
  std::string partner;
  store.walk_serial(header.serial, [&](const RecordSummary& other) {
    if (other.serial == header.serial && (other.kind == RecordKind::trace) == trace_wanted &&
        facts_of(other.kind).is_evidence && other.kind != RecordKind::lot && other.simulated == header.simulated &&
        other.outcome != "unfinished" && other.kind != RecordKind::learn && other.kind != RecordKind::drop)
      partner = other.id;
    return partner.empty();
  });
  if (!partner.empty()) return partner;
  throw Error(ErrorKind::usage,
              std::string("there is no finished ") + (trace_wanted ? "trace" : "qualification") + " of serial number " +
                  terminal_safe(header.serial),
              store.path().string(), "make one, or take the report without --kind claim");
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
