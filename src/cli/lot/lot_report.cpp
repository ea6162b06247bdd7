// The lot as a document, and the lots of a supplier.
#include "switchwright/report/lot_report.hpp"

#include <fmt/format.h>

#include <nlohmann/json.hpp>

#include "cli/choose/places.hpp"
#include "cli/guided_run.hpp"
#include "cli/lot/lot_common.hpp"
#include "cli/lot/lot_plans.hpp"
#include "cli/lot/sitting.hpp"
#include "cli/options/options.hpp"
#include "cli/output.hpp"
#include "cli/picture_file.hpp"
#include "switchwright/core/durable_file.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/profile/library.hpp"

namespace switchwright::cli {

namespace {

std::vector<LotOfSupplier> shown(const std::vector<LotInHistory>& history) {
  std::vector<LotOfSupplier> lots;
  for (const LotInHistory& lot : history)
    lots.push_back({lot.lot_number, lot.mode, lot.decision, lot.sample, lot.defective});
  return lots;
}

/// What was timed of the lot's units since it was opened. A trace that is no proof (broken, of another part, simulated where the
/// lot is not) says nothing.
std::vector<LotTrace> traces_of(const Store& store, const Record& lot, const LotCourse& course) {
  std::vector<LotTrace> traces;
  for (const LotPlaceState& place : course.places)
    for (const std::string& id : store.traces_of(place.serial)) {
      const Record trace = store.load(id);
      if (!trace.verdict || !trace.chain_fault.empty() || trace.header.started < lot.header.started ||
          trace.header.simulated != lot.header.simulated || trace.header.profile_id != lot.header.profile_id)
        continue;
      traces.push_back({place.unit, place.serial, timed_figures(trace)});
    }
  return traces;
}

LotDocument document_of(const Store& store, const Record& lot) {
  LotDocument document;
  document.lot = lot;
  document.faults = record_faults(store, lot);
  document.course = course_of(lot, document.faults);
  std::vector<std::pair<LotPlaceState, Record>> units;
  for (const LotPlaceState& place : document.course.places)
    if (!place.record.empty()) units.emplace_back(place, store.load(place.record));
  std::vector<Profile> others;
  for (const std::string& id : lot.lot->versions) others.push_back(load_profile(id, profile_places()));
  document.values = lot_values(profile_in(lot), units, others, traces_of(store, lot, document.course));
  const auto history = history_of(store, lot.header.part, lot.lot->supplier);
  document.history = shown(history);
  const ProposedMode next = proposed_mode(history, history.empty() ? std::nullopt : history.back().reduced_limit);
  document.next_mode = next.discontinued ? "no" : next.mode;
  document.next_reason = next.reason;
  document.sitting_rule = Sittings::rule(lot.lot->condition == "new");
  return document;
}

std::string format_of(const LotReportOptions& options) {
  if (!options.format.empty()) return options.format;
  const std::string& file = options.output;
  if (file.ends_with(".pdf")) return "pdf";
  if (file.ends_with(".csv")) return "csv";
  if (file.empty() || file == "-" || file.ends_with(".html") || file.ends_with(".htm")) return "html";
  throw Error(ErrorKind::usage, "a lot report cannot be written so", file,
              "end its name with .html, .pdf or .csv, or say which with --format");
}

}  // namespace

int run(const LotReportOptions& options) {
  const std::string format = format_of(options);
  const Store store{store_place(options.store)};
  const LotDocument document = document_of(store, lot_named(store, options.lot));
  const std::string text = format == "csv"   ? lot_csv(document)
                           : format == "pdf" ? lot_pdf(document)
                                             : lot_html(document);
  if (options.output.empty() || options.output == "-") {
    put(text);
  } else {
    write_file_durably(options.output, text);
    say("report written to " + options.output);
  }
  return document.faults.empty() ? 0 : 5;
}

int run(const LotHistoryOptions& options) {
  const Store store{store_place(options.store)};
  const auto history = history_of(store, options.part, options.supplier);
  const ProposedMode next = proposed_mode(history, options.reduced_limit);
  using nlohmann::ordered_json;
  int decided = 0, accepted = 0;
  for (const LotInHistory& lot : history) {
    decided += lot.decision == "accept" || lot.decision == "reject";
    accepted += lot.decision == "accept";
    if (options.json)
      put_line(ordered_json{{"type", "lot-in-history"},
                            {"lot", lot.id},
                            {"lot_number", lot.lot_number},
                            {"mode", lot.mode},
                            {"decision", lot.decision},
                            {"sample", lot.sample},
                            {"defective", lot.defective}}
                   .dump(-1, ' ', false, ordered_json::error_handler_t::replace));
    else
      put_line(fmt::format("{}  {:<12} {:<10} {:<7} {} defective of {}", lot.id, terminal_safe(lot.lot_number),
                           lot.mode, lot.decision.empty() ? "open" : lot.decision, lot.defective, lot.sample));
  }
  if (options.json)
    put_line(ordered_json{{"type", "next-mode"},
                          {"mode", next.mode},
                          {"reason", next.reason},
                          {"discontinued", next.discontinued},
                          {"lots_decided", decided},
                          {"lots_accepted", accepted}}
                 .dump());
  else
    put_line(fmt::format("{} of {} decided lots accepted; the next: {}. {}", accepted, decided,
                         next.discontinued ? "none is accepted" : next.mode + " inspection", next.reason));
  if (!options.picture.empty()) write_picture(options.picture, mode_picture(shown(history)));
  return 0;
}

}  // namespace switchwright::cli
