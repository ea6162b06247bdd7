#include "cli/lot/lot_common.hpp"

#include <fmt/format.h>

#include <cmath>
#include <nlohmann/json.hpp>

#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/record/record_json.hpp"

namespace switchwright::cli {

namespace {

Record whole(const Store& store, const std::string& id) {
  Record lot = store.load(id);
  if (!lot.lot || lot.header.kind != RecordKind::lot)
    throw Error(ErrorKind::usage, "record " + lot.header.id + " is no lot", store.path().string(),
                "list the lots with: switchwright lot status");
  if (!lot.chain_fault.empty())
    throw Error(ErrorKind::store, "the lot is not as it was written: " + lot.chain_fault, store.path().string(),
                "nothing can be decided from it; find out who changed the store");
  return lot;
}

int still_to_do(const LotCourse& course) {
  int open = 0;
  for (const LotPlaceState& place : course.places)
    open += place.state == UnitState::missing || place.state == UnitState::begun;
  return open;
}

}  // namespace

Record lot_named(const Store& store, const std::string& name) {
  const std::vector<std::string> ids = store.lots();
  if (ids.empty())
    throw Error(ErrorKind::usage, "there is no lot yet", store.path().string(), "open one with: switchwright lot open");
  if (name == "latest") return whole(store, ids.back());
  if (name.empty()) {
    std::vector<std::string> open;
    for (const std::string& id : ids)
      if (store.load(id).lot_decisions.empty()) open.push_back(id);
    if (open.size() == 1) return whole(store, open.front());
    throw Error(ErrorKind::usage, open.empty() ? "every lot is closed" : fmt::format("{} lots are open", open.size()),
                "LOT", "say which is meant; they are listed by: switchwright lot status");
  }
  std::vector<std::string> found;
  for (const std::string& id : ids) {
    if (id == name) return whole(store, id);
    if (id.starts_with(name)) found.push_back(id);
  }
  if (found.empty())
    for (const std::string& id : ids)
      if (const Record lot = store.load(id); lot.lot && lot.lot->lot_number == name) found.push_back(id);
  if (found.size() == 1) return whole(store, found.front());
  throw Error(ErrorKind::usage,
              found.empty() ? "no lot is called \"" + terminal_safe(name) + "\""
                            : fmt::format("{} lots are called \"{}\": {}", found.size(), terminal_safe(name),
                                          joined_with_and(found)),
              "LOT", "list them with: switchwright lot status");
}

std::vector<std::string> record_faults(const Store& store, const Record& lot) {
  std::vector<std::string> faults;
  for (const LotUnitRow& row : lot.lot_units) {
    if (row.what != "tested") continue;
    const std::string who = fmt::format("Unit {} ({}): ", row.unit, row.serial);
    try {
      const Record record = store.load(row.record);
      if (!record.chain_fault.empty())
        faults.push_back(full_stop(who + "its record was changed: " + record.chain_fault));
      else if (record.chain_head != row.record_head)
        faults.push_back(who + "record " + row.record + " is not the one that was decided on.");
      else if (!record.verdict || word_for(record.verdict->outcome) != row.outcome)
        faults.push_back(who + "record " + row.record + " has another outcome than the lot says.");
    } catch (const Error& error) {
      faults.push_back(full_stop(who + error.what_happened()));
    }
  }
  return faults;
}

std::string rough_time(double seconds) {
  if (seconds < 90.0) return fmt::format("{:.0f} s", seconds);
  const auto minutes = static_cast<long>(std::lround(seconds / 60.0));
  return minutes < 90 ? fmt::format("{} min", minutes) : fmt::format("{} h {} min", minutes / 60, minutes % 60);
}

std::string progress_line(const LotCourse& course, std::optional<double> seconds_per_unit) {
  std::string by_class, may;
  for (const LotClassCount& count : course.classes) {
    by_class += fmt::format("{}{} {}", by_class.empty() ? "" : ", ", count.plan.severity, count.defective);
    may += fmt::format("{}{} {}", may.empty() ? "" : ", ", count.plan.severity, count.may_still_fail);
  }
  int open = 0;
  for (const LotPlaceState& place : course.places)
    open += place.state == UnitState::undecided || place.state == UnitState::lost;
  std::string line = fmt::format("{} of {} done: {} good, {} defective ({})", course.done, course.places.size(),
                                 course.passed, course.failed, by_class);
  if (open > 0) line += fmt::format(", {} undecided or lost", open);
  line += course.rejection_certain ? "; rejected whatever the rest is" : "; may still fail: " + may;
  if (seconds_per_unit) {
    line += fmt::format("; {:.0f} s per unit", *seconds_per_unit);
    if (const int left = still_to_do(course)) line += ", about " + rough_time(*seconds_per_unit * left) + " left";
  }
  return line;
}

std::string progress_json(const std::string& lot_id, const LotCourse& course, std::optional<double> seconds_per_unit) {
  using nlohmann::ordered_json;
  ordered_json line{{"type", "lot"},       {"lot", lot_id},         {"sample", course.places.size()},
                    {"done", course.done}, {"good", course.passed}, {"defective", course.failed}};
  line["classes"] = ordered_json::array();
  for (const LotClassCount& count : course.classes)
    line["classes"].push_back({{"severity", count.plan.severity},
                               {"sample_size", count.plan.sample_size},
                               {"accept", count.plan.accept},
                               {"reject", count.plan.reject},
                               {"defective", count.defective},
                               {"undecided", count.undecided},
                               {"missing", count.missing},
                               {"may_still_fail", count.may_still_fail}});
  line["rejection_certain"] = course.rejection_certain;
  line["acceptance_certain"] = course.acceptance_certain;
  line["decision_now"] = course.decision;
  line["reason"] = course.reason;
  if (seconds_per_unit) {
    line["seconds_per_unit"] = *seconds_per_unit;
    line["seconds_left"] = *seconds_per_unit * still_to_do(course);
  }
  return line.dump(-1, ' ', false, ordered_json::error_handler_t::replace);
}

std::string certainty_words(const LotCourse& course) {
  if (course.rejection_certain) return "The lot is rejected, whatever the rest is. " + course.reason;
  if (course.acceptance_certain && course.next() != nullptr && course.since_check == 0)
    return "The lot is accepted, however bad the rest is. " + course.reason;
  return {};
}

int exit_code_of_decision(const std::string& decision) {
  return decision == "accept" ? 0 : decision == "reject" ? 1 : 3;
}

}  // namespace switchwright::cli
