// The decision, and what happens to units beside being tested. Rows are added; nothing is ever overwritten.
#include <fmt/format.h>

#include <algorithm>
#include <nlohmann/json.hpp>

#include "cli/choose/choices.hpp"
#include "cli/choose/places.hpp"
#include "cli/lot/lot_common.hpp"
#include "cli/options/options.hpp"
#include "cli/output.hpp"
#include "switchwright/analysis/measured.hpp"
#include "switchwright/core/amount.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/lot/draw.hpp"

namespace switchwright::cli {

namespace {

using nlohmann::ordered_json;

Wall now() { return SystemClock{}.now().wall; }

std::string wanted_operator(const std::string& given) {
  std::string name = given;
  while (name.empty()) {
    if (!interactive()) throw Error(ErrorKind::usage, "who decides is missing", "", "give it with --operator");
    name = ask_line("Operator: ");
  }
  return name;
}

void require_open(const Record& lot) {
  if (!lot.lot_decisions.empty() && lot.lot_decisions.back().decision != "hold")
    throw Error(ErrorKind::usage, "the lot is closed: " + lot.lot_decisions.back().decision, "LOT",
                "a decision is not taken back; see: switchwright lot report " + lot.header.id);
}

const LotPlaceState& place_named(const LotCourse& course, const std::string& text) {
  for (const LotPlaceState& place : course.places)
    if (std::to_string(place.unit) == text || (!place.serial.empty() && place.serial == text)) return place;
  throw Error(ErrorKind::usage, "no unit of the sample is called \"" + terminal_safe(text) + "\"", "--unit",
              "give its number in the carton or its serial number");
}

/// A unit of the carton that is not in the sample and never was.
int other_unit(const Record& lot, std::optional<int> wanted) {
  std::vector<bool> used(static_cast<std::size_t>(lot.lot->size) + 1, false);
  const auto use = [&](int unit) {
    if (unit >= 1 && unit <= lot.lot->size) used[static_cast<std::size_t>(unit)] = true;
  };
  for (const int unit : lot.lot->units) use(unit);
  for (const LotUnitRow& row : lot.lot_units) use(row.unit);
  if (wanted) {
    if (*wanted > lot.lot->size || used[static_cast<std::size_t>(*wanted)])
      throw Error(ErrorKind::usage, fmt::format("unit {} is in the sample already, or not in the carton", *wanted),
                  "--by", "leave --by out: one is drawn at random");
    return *wanted;
  }
  std::vector<long> taken;
  for (int unit = 1; unit <= lot.lot->size; ++unit)
    if (used[static_cast<std::size_t>(unit)]) taken.push_back(unit);
  const long drawn = draw_replacement(lot.lot->size, taken, static_cast<std::uint64_t>(lot.lot->seed));
  if (drawn == 0)
    throw Error(ErrorKind::usage, "every unit of the carton is in the sample", "--unit",
                "what is lost stays undecided");
  return static_cast<int>(drawn);
}

}  // namespace

int run(const LotUnitOptions& options) {
  Store store{store_place(options.store)};
  const std::string id = lot_named(store, options.lot).header.id;
  store.take_up(id);
  const Record lot = store.load(id);
  require_open(lot);
  const LotPlaceState place = place_named(course_of(lot), options.unit);
  LotUnitRow row;
  row.place = place.place;
  row.unit = place.unit;
  row.text = options.reason;
  row.operator_name = wanted_operator(options.operator_name);
  row.at = now();
  if (options.action == LotUnitOptions::Action::replaced) {
    if (place.state == UnitState::fail || place.state == UnitState::pass || place.retested)
      throw Error(
          ErrorKind::usage, fmt::format("unit {} is decided ({}): it counts", place.unit, to_string(place.state)),
          "--unit",
          "only a unit that is lost or was not tested is replaced; test it once more with: switchwright lot retest");
    for (const LotUnitRow& had : lot.lot_units)
      if (had.place == place.place && had.what == "tested" && had.outcome != "pass")
        throw Error(ErrorKind::usage,
                    fmt::format("a unit at this place {} (record {}): it counts",
                                had.outcome == "fail" ? "has failed" : "was tested and is undecided", had.record),
                    "--unit", "test it once more with: switchwright lot retest; or close the lot, or hold it");
    for (const LotUnitRow& had : lot.lot_units)
      if (had.place == place.place && had.what == "begun" && !measured_in(store.load(had.record)).empty())
        throw Error(
            ErrorKind::usage,
            fmt::format("the test of a unit at this place was begun and not finished (record {}): what it has read may "
                        "be what it was lost for, so it counts",
                        had.record),
            "--unit", "what is lost stays undecided: close the lot, or hold it");
    row.what = "replaced";
    row.unit = other_unit(lot, options.by);
    row.text = fmt::format("in place of unit {}: {}", place.unit, options.reason);
  } else {
    row.what = "lost";
    row.serial = place.serial;
  }
  Batch batch;
  batch.lot_units.push_back(row);
  store.append(id, batch);
  if (options.json)
    put_line(
        ordered_json{{"type", "unit"}, {"place", row.place}, {"unit", row.unit}, {"what", row.what}, {"text", row.text}}
            .dump(-1, ' ', false, ordered_json::error_handler_t::replace));
  else
    put_line(row.what == "lost"
                 ? fmt::format("unit {} is recorded as lost: {}", row.unit, terminal_safe(options.reason))
                 : fmt::format("unit {} takes the place of unit {}: {}", row.unit, place.unit,
                               terminal_safe(options.reason)));
  return 0;
}

int run(const LotCloseOptions& options) {
  Store store{store_place(options.store)};
  const std::string id = lot_named(store, options.lot).header.id;
  store.take_up(id);
  const Record lot = store.load(id);
  require_open(lot);
  const LotCourse course = course_of(lot, record_faults(store, lot));
  LotDecisionRow row{course.decision, course.reason, wanted_operator(options.operator_name), now()};
  Batch batch;
  batch.lot_decisions.push_back(row);
  if (row.decision != "hold") batch.ended = row.at;
  store.append(id, batch);
  if (options.json) {
    ordered_json line{{"type", "lot-decision"}, {"lot", id}, {"decision", row.decision}, {"reason", row.reason}};
    for (const LotClassCount& count : course.classes)
      line["classes"].push_back({{"severity", count.plan.severity},
                                 {"defective", count.defective},
                                 {"accept", count.plan.accept},
                                 {"reject", count.plan.reject}});
    put_line(line.dump(-1, ' ', false, ordered_json::error_handler_t::replace));
  } else {
    put_line(fmt::format("lot {}: {}", terminal_safe(lot.lot->lot_number), row.decision));
    put_line(terminal_safe(row.reason));
    put_line("report: switchwright lot report " + id + " -o lot.html");
  }
  return exit_code_of_decision(row.decision);
}

}  // namespace switchwright::cli
