#include "page/lot_unit.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "switchwright/analysis/lot_course.hpp"
#include "switchwright/analysis/lot_unit.hpp"
#include "switchwright/core/error.hpp"

namespace switchwright::page {

namespace {

bool is_owed_full_plan(const LotPlaceState& place) {
  return (place.state == UnitState::fail || place.state == UnitState::undecided) && place.plan == "short";
}

/// The same order as in a terminal: what was begun, what deviated on the short plan, what was not tested yet.
const LotPlaceState* next_place(const LotCourse& course) {
  for (const LotPlaceState& place : course.places)
    if (!place.open_record.empty()) return &place;
  for (const LotPlaceState& place : course.places)
    if (is_owed_full_plan(place)) return &place;
  return course.next();
}

std::string plan_of(const LotOpening& lot, const LotPlaceState& place) {
  if (is_owed_full_plan(place)) return "full";
  return lot.full_every > 0 && place.place % lot.full_every == 0 ? "full" : "short";
}

bool is_closed(const Record& lot) { return !lot.lot_decisions.empty() && lot.lot_decisions.back().decision != "hold"; }

/// Why this lot is gone on with in a terminal and not here; empty: it can be.
std::string not_here(const Record& lot) {
  const std::string there = " Go on with it in a terminal: switchwright lot run " + lot.header.id;
  if (!lot.lot->references.empty())
    return "Before each shift of this lot the bench is checked with reference resistors." + there;
  if (!lot.lot->versions.empty()) return "Other versions of the part may be in this carton." + there;
  return {};
}

Json place_json(const LotOpening& lot, const LotPlaceState& place) {
  Json json{{"place", place.place}, {"unit", place.unit}, {"state", to_string(place.state)}};
  if (!place.serial.empty()) json["serial"] = place.serial;
  if (!place.severity.empty()) json["severity"] = place.severity;
  if (!place.record.empty()) json["record"] = place.record;
  if (!place.why.empty()) json["why"] = place.why;
  json["plan"] = plan_of(lot, place);
  json["goes_on"] = !place.open_record.empty();
  json["again"] = is_owed_full_plan(place);
  return json;
}

Json lot_json(const Record& lot) {
  const LotCourse course = course_of(lot);
  Json json{{"lot", lot.header.id},
            {"lot_number", lot.lot->lot_number},
            {"supplier", lot.lot->supplier},
            {"part", lot.header.part},
            {"profile", lot.header.profile_id},
            {"meter", lot.header.meter_id},
            {"size", lot.lot->size},
            {"condition", lot.lot->condition},
            {"mode", lot.lot->mode},
            {"sample", course.places.size()},
            {"done", course.done},
            {"good", course.passed},
            {"defective", course.failed},
            {"closed", is_closed(lot)},
            {"decision", is_closed(lot) ? lot.lot_decisions.back().decision : course.decision},
            {"reason", is_closed(lot) ? lot.lot_decisions.back().reason : course.reason},
            {"rejection_certain", course.rejection_certain},
            {"acceptance_certain", course.acceptance_certain},
            {"not_here", not_here(lot)}};
  json["classes"] = Json::array();
  for (const LotClassCount& count : course.classes)
    json["classes"].push_back({{"severity", count.plan.severity},
                               {"sample_size", count.plan.sample_size},
                               {"accept", count.plan.accept},
                               {"defective", count.defective},
                               {"undecided", count.undecided},
                               {"may_still_fail", count.may_still_fail}});
  json["places"] = Json::array();
  for (const LotPlaceState& place : course.places) json["places"].push_back(place_json(*lot.lot, place));
  if (const LotPlaceState* next = is_closed(lot) ? nullptr : next_place(course))
    json["next"] = place_json(*lot.lot, *next);
  return json;
}

}  // namespace

Json lots_json(const Store& store) {
  Json open = Json::array(), all = Json::array();
  const std::vector<std::string> ids = store.lots();
  for (auto id = ids.rbegin(); id != ids.rend(); ++id) {
    const Record lot = store.load(*id);
    if (!lot.lot) continue;
    if (!lot.chain_fault.empty()) {
      all.push_back({{"lot", *id}, {"lot_number", lot.lot->lot_number}, {"fault", lot.chain_fault}});
      continue;
    }
    (is_closed(lot) ? all : open).push_back(lot_json(lot));
  }
  for (Json& one : all) open.push_back(std::move(one));
  return open;
}

void note_finished(Store& store, const std::string& lot_id) {
  const Record lot = store.load(lot_id);
  if (!lot.lot || !lot.chain_fault.empty()) return;
  for (const LotPlaceState& place : course_of(lot).places) {
    if (place.open_record.empty() || !store.load(place.open_record).verdict) continue;
    LotUnit unit{lot_id, lot.lot->lot_number, {}, place.open_record};
    unit.row.place = place.place;
    unit.row.unit = place.unit;
    store.take_up(lot_id);
    note_tested(store, unit, place.open_record);
  }
}

LotUnit next_lot_unit(const Record& lot, const std::string& serial, bool simulated) {
  if (!lot.lot) throw Refusal("Record " + lot.header.id + " is no lot.");
  if (!lot.chain_fault.empty())
    throw Refusal("The lot is not as it was written, so nothing can be decided from it: " + lot.chain_fault);
  if (is_closed(lot)) throw Refusal("The lot is closed: " + lot.lot_decisions.back().decision + ".");
  if (const std::string why = not_here(lot); !why.empty()) throw Refusal(why);
  if (lot.header.simulated != simulated)
    throw Refusal(simulated ? "This lot is a real one; a simulated unit does not belong to it."
                            : "This lot is a simulated one; a real unit does not belong to it.");
  const LotCourse course = course_of(lot);
  const LotPlaceState* place = next_place(course);
  if (place == nullptr)
    throw Refusal("The sample is done. Decide in a terminal: switchwright lot close " + lot.header.id);
  LotUnit unit{lot.header.id, lot.lot->lot_number, {}, place->open_record};
  unit.row.place = place->place;
  unit.row.unit = place->unit;
  unit.row.plan = plan_of(*lot.lot, *place);
  const bool had = !place->open_record.empty() || is_owed_full_plan(*place);
  if (had && !serial.empty() && serial != place->serial)
    throw Refusal(fmt::format("The unit on the bench must be number {} of the carton, which bears {}; that is {}.",
                              place->unit, place->serial, serial));
  unit.row.serial = had ? place->serial : serial;
  if (unit.row.serial.empty()) throw Refusal(fmt::format("Scan or type the serial number of unit {}.", place->unit));
  for (const unsigned char c : unit.row.serial)
    if (c < 0x20 || c == 0x7F) throw Refusal("That was not read right: scan it again.");
  for (const LotPlaceState& other : course.places)
    if (other.place != place->place && other.serial == unit.row.serial)
      throw Refusal(fmt::format(
          "Serial number {} is that of unit {} already. Scan the number of unit {}; where two pieces bear one number, or one is to be "
          "tested again, go on in a terminal: switchwright lot run {}",
          unit.row.serial, other.unit, place->unit, lot.header.id));
  return unit;
}

void note_begun(Store& store, const LotUnit& unit, const std::string& record) {
  Batch setup;
  setup.results.push_back(result_of(LotUnitSetup{unit.lot_id, unit.lot_number, unit.row.place, unit.row.unit, {}}));
  store.append(record, setup);
  Batch batch;
  batch.lot_units.push_back(unit.row);
  LotUnitRow& row = batch.lot_units.back();
  row.what = "begun";
  row.record = record;
  row.at = SystemClock{}.now().wall;
  store.append(unit.lot_id, batch);
}

void note_tested(Store& store, const LotUnit& unit, const std::string& record) {
  const Record ended = store.load(record);
  if (!ended.verdict) return;
  LotUnitRow row = tested_row(ended);
  row.place = unit.row.place;
  row.unit = unit.row.unit;
  row.at = SystemClock{}.now().wall;
  Batch batch;
  batch.lot_units.push_back(row);
  store.append(unit.lot_id, batch);
}

}  // namespace switchwright::page
