// How lots stand, and what a supplier's lots add up to.
#include <fmt/format.h>

#include <algorithm>
#include <nlohmann/json.hpp>

#include "cli/choose/places.hpp"
#include "cli/lot/lot_common.hpp"
#include "cli/lot/lot_plans.hpp"
#include "cli/options/options.hpp"
#include "cli/output.hpp"
#include "cli/view/table.hpp"
#include "switchwright/core/text.hpp"

namespace switchwright::cli {

namespace {

using nlohmann::ordered_json;

std::string state_words(const Record& lot, const LotCourse& course) {
  if (!lot.lot_decisions.empty()) return lot.lot_decisions.back().decision;
  return fmt::format("open, {} of {}", course.done, course.places.size());
}

void show_one(const Store& store, const Record& lot, bool json) {
  const LotCourse course = course_of(lot, record_faults(store, lot));
  if (json) {
    put_line(progress_json(lot.header.id, course, std::nullopt));
    for (const LotPlaceState& place : course.places) {
      ordered_json line{
          {"type", "unit"}, {"place", place.place}, {"unit", place.unit}, {"state", to_string(place.state)}};
      if (!place.serial.empty()) line["serial"] = place.serial;
      if (!place.severity.empty()) line["severity"] = place.severity;
      if (!place.record.empty()) line["record"] = place.record;
      if (!place.why.empty()) line["why"] = place.why;
      line["retested"] = place.retested;
      line["replaced"] = place.replaced;
      put_line(line.dump(-1, ' ', false, ordered_json::error_handler_t::replace));
    }
    return;
  }
  put_line(fmt::format("lot {} of {} from {}: {} units, {} inspection, record {}", terminal_safe(lot.lot->lot_number),
                       terminal_safe(lot.header.part), terminal_safe(lot.lot->supplier), lot.lot->size, lot.lot->mode,
                       lot.header.id));
  put_line(progress_line(course, std::nullopt));
  for (const LotPlaceState& place : course.places)
    if (place.state != UnitState::pass && place.state != UnitState::missing)
      put_line(fmt::format("  unit {:<5} {:<14} {:<9} {} {}", place.unit, terminal_safe(place.serial),
                           to_string(place.state), place.severity, terminal_safe(place.why)));
  if (!lot.lot_decisions.empty())
    put_line(
        terminal_safe(sentences({"closed: " + lot.lot_decisions.back().decision, lot.lot_decisions.back().reason})));
  else
    put_line(terminal_safe(sentences({"closed now it would be: " + course.decision, course.reason})));
}

}  // namespace

int run(const LotStatusOptions& options) {
  const Store store{store_place(options.store)};
  if (!options.lot.empty()) {
    show_one(store, lot_named(store, options.lot), options.json);
    return 0;
  }
  std::vector<std::string> ids = store.lots();
  if (ids.empty() && !options.json) put_line("no lot yet; open one with: switchwright lot open");
  std::reverse(ids.begin(), ids.end());
  for (const std::string& id : ids) {
    const Record lot = store.load(id);
    if (!lot.lot) continue;
    const LotCourse course = course_of(lot);
    if (options.json)
      put_line(ordered_json{{"type", "lot-summary"},
                            {"lot", id},
                            {"lot_number", lot.lot->lot_number},
                            {"part", lot.header.part},
                            {"supplier", lot.lot->supplier},
                            {"size", lot.lot->size},
                            {"mode", lot.lot->mode},
                            {"done", course.done},
                            {"sample", course.places.size()},
                            {"defective", course.failed},
                            {"decision", lot.lot_decisions.empty() ? "" : lot.lot_decisions.back().decision}}
                   .dump(-1, ' ', false, ordered_json::error_handler_t::replace));
    else
      put_line(fmt::format("{}  {:<12} {:<16} {:<16} {:>6} units  {:<10} {}{}", id, terminal_safe(lot.lot->lot_number),
                           terminal_safe(lot.header.part), terminal_safe(lot.lot->supplier), lot.lot->size,
                           lot.lot->mode, state_words(lot, course),
                           lot.chain_fault.empty() ? "" : "  CHANGED: do not rely on it"));
  }
  return 0;
}

}  // namespace switchwright::cli
