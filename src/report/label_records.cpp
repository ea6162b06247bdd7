#include <fmt/format.h>

#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/record/store.hpp"
#include "switchwright/report/label.hpp"

namespace switchwright {

void require_label_stands(const Store& store, const Record& record) {
  const RecordHeader& header = record.header;
  if (!record.verdict || record.verdict->outcome != Outcome::pass || header.serial.empty()) return;
  std::string against, outcome;
  store.walk([&](const RecordSummary& later) {
    const bool of_this_piece = later.id != header.id && later.started > header.started &&
                               later.simulated == header.simulated && same_tag(later.serial, header.serial);
    // What qualifies the part and has not passed speaks against it; of other work only what failed.
    const bool speaks = later.outcome == "fail" || (facts_of(later.kind).qualifies && later.outcome != "pass");
    if (of_this_piece && facts_of(later.kind).is_evidence && speaks) against = later.id, outcome = later.outcome;
    return against.empty() && later.started >= header.started;
  });
  if (against.empty()) return;
  throw Error(ErrorKind::usage,
              fmt::format("the part must not bear this pass: its later record {} is {}", against,
                          outcome == "fail" ? "a fail" : outcome),
              "record " + header.id,
              "print the label of that one: switchwright label " + against + "; or measure the part anew");
}

}  // namespace switchwright
