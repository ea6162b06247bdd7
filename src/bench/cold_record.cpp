#include "switchwright/bench/cold_record.hpp"

#include <fmt/format.h>

#include <chrono>

#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"

namespace switchwright {

namespace {

constexpr std::chrono::minutes sitting{60};
constexpr std::chrono::seconds clock_slack{2};
constexpr const char* measure_it =
    "measure the part without power first: switchwright qualify --profile ... --serial ...";

bool is_cold(RecordKind kind) { return facts_of(kind).proves_cold; }

[[noreturn]] void refuse(const std::string& why, const std::string& id) {
  throw Error(ErrorKind::usage, why + ": nothing is energised on the word of this record", "record " + id, measure_it);
}

std::string serial_words(const std::string& serial) {
  return serial.empty() ? "no serial number" : "serial number " + terminal_safe(serial);
}

/// A record of both parts of the work counts when its cold part passed, whatever the supply did afterwards.
bool passed_cold(const Record& record) {
  if (!record.verdict || record.verdict->outcome == Outcome::fail) return false;
  if (record.verdict->outcome == Outcome::pass) return true;
  if (record.header.kind != RecordKind::qualify_powered) return false;
  const auto decided = [&](ScopePart part) { return record.verdict->scope[part].decided; };
  const auto stands = [&](ScopePart part) {
    return decided(part) == Decided::pass || decided(part) == Decided::not_asked;
  };
  return decided(ScopePart::continuity) == Decided::pass && decided(ScopePart::soundness) != Decided::fail &&
         stands(ScopePart::inspection) && stands(ScopePart::stated);
}

void check_that_it_is_of_this_part(const Record& record, const PartAtHand& part) {
  const RecordHeader& header = record.header;
  if (!is_cold(header.kind))
    refuse("it is a record of kind " + to_string(header.kind) + ", not one without power", header.id);
  if (!record.verdict) refuse("it is unfinished", header.id);
  if (header.serial != part.serial)
    refuse(fmt::format("it is of {}, the part at hand has {}", serial_words(header.serial), serial_words(part.serial)),
           header.id);
  if (header.profile_id != part.profile.id)
    refuse(fmt::format("it was judged as {}, not as {}", header.profile_id, part.profile.id), header.id);
  if (header.profile_text != part.profile.source_text)
    refuse("the profile has been changed since it was measured", header.id);
  if (header.simulated != part.simulated)
    refuse(header.simulated ? "it was measured on the simulator"
                            : "it was measured on a real part, and this one is simulated",
           header.id);
  if (!passed_cold(record)) refuse("it did not pass (" + to_string(record.verdict->outcome) + ")", header.id);
}

/// Which record is the later one is known by the clock alone.
void check_that_the_clock_went_on(const Record& record, Wall now) {
  if (record.ended.value_or(record.header.started) > now + clock_slack)
    throw Error(ErrorKind::usage,
                "the record ended at " + iso8601(record.ended.value_or(record.header.started)) + " and now it is " +
                    iso8601(now) + ": the clock was set back, and what came later is not known",
                "record " + record.header.id, "set this computer's clock, or " + std::string{measure_it});
}

/// What was found out about the same part since; a tag is written with and without blanks and capitals.
void check_that_nothing_later_speaks_against_it(const Store& store, const RecordHeader& header) {
  std::vector<RecordSummary> since;
  store.walk([&](const RecordSummary& later) {
    if (later.started > header.started && later.simulated == header.simulated &&
        same_tag(later.serial, header.serial) && later.id != header.id)
      since.push_back(later);
    return later.started >= header.started;
  });
  for (const RecordSummary& later : since) {
    const bool cold_and_not_passed =
        is_cold(later.kind) && later.outcome != "pass" && !passed_cold(store.load(later.id));
    if (later.outcome == "fail" || cold_and_not_passed)
      refuse(fmt::format("a later record of the same serial number, {}, is {}", later.id,
                         later.outcome == "fail" ? "a fail" : later.outcome),
             header.id);
  }
}

std::string newest_of_this_sitting(const Store& store, const PartAtHand& part, Wall now) {
  std::optional<RecordSummary> latest;
  store.walk_serial(part.serial, [&](const RecordSummary& record) {
    if (is_cold(record.kind) && record.serial == part.serial && record.simulated == part.simulated) latest = record;
    return !latest;
  });
  if (latest) {
    const auto ended = store.load(latest->id).ended.value_or(latest->started);
    if (now - ended > sitting)
      throw Error(
          ErrorKind::usage,
          fmt::format("the last record without power of {} is from an earlier sitting", serial_words(part.serial)),
          "record " + latest->id, "name it when the part is still the same: --cold " + latest->id);
    return latest->id;
  }
  throw Error(ErrorKind::usage,
              fmt::format("no record says that the part with {} passed without power: it is not energised",
                          serial_words(part.serial)),
              store.path().string(), measure_it);
}

}  // namespace

ColdProof cold_proof(const Store& store, const std::string& named, const PartAtHand& part, Wall now) {
  if (part.serial.empty())
    throw Error(ErrorKind::usage, "without a serial number no record can be of this part: it is not energised",
                "--serial", "give the serial number or tag that the part was measured under without power");
  const Record record = store.load(named.empty() ? newest_of_this_sitting(store, part, now) : named);
  check_that_the_clock_went_on(record, now);
  if (const std::string broken = store.check_chain(record.header.id); !broken.empty())
    throw Error(ErrorKind::store, broken + " Nothing is energised on the word of this record",
                "record " + record.header.id, measure_it);
  check_that_it_is_of_this_part(record, part);
  check_that_nothing_later_speaks_against_it(store, record.header);
  return {record.header.id,
          fmt::format("Energised on the word of record {}: {} passed without power, measured {}.", record.header.id,
                      serial_words(record.header.serial), iso8601(record.header.started))};
}

std::string cold_record_of(const Record& powered) {
  for (const EventRow& event : powered.events)
    if (event.kind == "cold-record") return event.text.substr(0, event.text.find(':'));
  return {};
}

}  // namespace switchwright
