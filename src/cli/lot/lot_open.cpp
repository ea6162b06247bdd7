// Opening a lot: what was ordered, how many are tested, and which. The drawing's seed is kept, so that anybody can draw the
// same units again.
#include <fmt/format.h>

#include <algorithm>
#include <cctype>
#include <nlohmann/json.hpp>
#include <random>

#include "cli/choose/choices.hpp"
#include "cli/choose/places.hpp"
#include "cli/guided_run.hpp"
#include "cli/lot/lot_common.hpp"
#include "cli/lot/lot_plans.hpp"
#include "cli/options/options.hpp"
#include "cli/output.hpp"
#include "switchwright/core/amount.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/lot/draw.hpp"
#include "switchwright/profile/library.hpp"

namespace switchwright::cli {

namespace {

/// What nobody can leave out: asked for in a terminal, else an error that names the option.
std::string wanted(Choices& choices, const std::string& key, const std::string& question, const std::string& option,
                   const std::string& given) {
  std::string text = given;
  while (text.empty()) {
    if (!interactive()) throw Error(ErrorKind::usage, question + " is missing", "", "give it with " + option);
    text = choices.text(key, question, {});
  }
  return text;
}

/// That of the lot before is never offered.
std::string wanted_lot_number(const std::string& given) {
  std::string number = given;
  if (number.empty() && !interactive())
    throw Error(ErrorKind::usage, "the lot number is missing", "", "give it with --lot-number");
  while (number.empty()) number = ask_line("Lot number: ");
  return number;
}

int wanted_size(const LotOpenOptions& options) {
  if (options.size) return *options.size;
  if (!interactive()) throw Error(ErrorKind::usage, "the size of the lot is missing", "", "give it with --size");
  for (;;) try {
      return static_cast<int>(read_count(ask_line("Units in the lot: "), 2, 500'000, "unit"));
    } catch (const Error& error) {
      if (error.kind() == ErrorKind::interrupted) throw;
      put_line(terminal_safe(error.what()));
    }
}

std::string wanted_condition(const std::string& given) {
  std::string condition = given;
  if (condition.empty() && !interactive())
    throw Error(ErrorKind::usage, "whether the parts were ever connected is missing", "",
                "give it with --condition new or --condition pulled");
  while (condition != "new" && condition != "pulled")
    condition = ask_line("Are the parts new (never connected to a supply) or pulled (were in use)? new or pulled: ");
  return condition;
}

/// "R100=100+-0.02".
ReferenceResistor reference_from(const std::string& text) {
  const auto equals = text.find('=');
  if (equals == std::string::npos || equals == 0)
    throw Error(ErrorKind::usage, "\"" + terminal_safe(text) + "\" is no resistor", "--reference",
                "write NAME=OHM+-U, like R100=100+-0.02");
  const std::string value = text.substr(equals + 1);
  const auto spread = value.find("+-");
  ReferenceResistor resistor;
  resistor.name = text.substr(0, equals);
  for (const char c : resistor.name)
    if (!std::isalnum(static_cast<unsigned char>(c)) && c != '-' && c != '_')
      throw Error(ErrorKind::usage, "\"" + terminal_safe(resistor.name) + "\" is no name for a resistor", "--reference",
                  "use letters, digits, - and _");
  resistor.ohm = read_amount(value.substr(0, spread), Amount::ohms, {0.0, 1e9, true}, "--reference");
  if (spread != std::string::npos)
    resistor.U_ohm = read_amount(value.substr(spread + 2), Amount::ohms, {0.0, 1e9}, "--reference");
  return resistor;
}

/// Of a lot that comes again: it was not accepted, and somebody says what was done to its units since.
void resubmit(const LotOpenOptions& options, const std::vector<LotInHistory>& history, LotOpening& lot) {
  if (options.resubmits.empty()) return;
  const auto earlier = std::find_if(history.rbegin(), history.rend(), [&](const LotInHistory& other) {
    return other.id == options.resubmits || name_key(other.lot_number) == name_key(options.resubmits);
  });
  if (earlier == history.rend())
    throw Error(ErrorKind::usage,
                "no lot of this part from this supplier is called \"" + terminal_safe(options.resubmits) + "\"",
                "--resubmits", "list them with: switchwright lot history");
  if (earlier->decision.empty() || earlier->decision == "accept")
    throw Error(ErrorKind::usage,
                fmt::format("lot {} {}", terminal_safe(options.resubmits),
                            earlier->decision.empty() ? "is still open" : "was accepted"),
                "--resubmits", "only a lot that was not accepted comes again");
  if (name_key(options.rework).empty())
    throw Error(ErrorKind::usage, "what was done to the units of the lot since it was not accepted is missing", "",
                "every unit is looked at again and the bad ones are taken out first; say so with --rework TEXT");
  lot.resubmits = earlier->id;
  lot.resubmitted_words = options.rework;
}

void choose_mode(const LotOpenOptions& options, const std::vector<LotInHistory>& history, LotOpening& lot) {
  ProposedMode proposed = proposed_mode(history, lot.reduced_limit);
  if (proposed.discontinued && name_key(options.corrective_action).empty())
    throw Error(ErrorKind::usage,
                "no lot of this part from this supplier is inspected for acceptance: " + proposed.reason, "",
                "once the supplier has put it right, say what was done with --corrective-action TEXT");
  if (!proposed.discontinued && !options.corrective_action.empty())
    throw Error(ErrorKind::usage, "acceptance is not discontinued: " + proposed.reason, "--corrective-action",
                "leave it out");
  if (proposed.discontinued) {
    lot.corrective_action = options.corrective_action;
    proposed = {"tightened", "The supplier has acted after acceptance was discontinued (MIL-STD-105E 4.8).", false};
  } else if (!lot.resubmits.empty() && proposed.mode != "tightened") {
    // Whoever is responsible decides between normal and tightened (MIL-STD-105E, resubmitted lots); the stricter is proposed.
    proposed = {"tightened", "The lot was not accepted before and comes again.", false};
    if (options.mode == "reduced")
      throw Error(ErrorKind::usage, "a lot that comes again is not inspected as reduced", "--mode",
                  "use tightened or normal");
  }
  lot.mode = options.mode.empty() ? proposed.mode : options.mode;
  lot.mode_reason =
      options.mode.empty() || options.mode == proposed.mode
          ? proposed.reason
          : fmt::format("Chosen by the operator; the history proposes {}: {}", proposed.mode, proposed.reason);
}

LotOpening planned(const LotOpenOptions& options, Choices& choices, const Store& store, const std::string& part) {
  LotOpening lot;
  lot.supplier = wanted(choices, "supplier", "Supplier", "--supplier", options.supplier);
  lot.order = options.order;
  if (lot.order.empty() && choices.asked()) lot.order = ask_line("Order (may be empty): ");
  lot.lot_number = wanted_lot_number(options.lot_number);
  lot.size = wanted_size(options);
  lot.condition = wanted_condition(options.condition);
  lot.level = options.level;
  const auto history = history_of(store, part, lot.supplier);
  for (const LotInHistory& other : history)
    if (name_key(other.lot_number) == name_key(lot.lot_number))
      throw Error(ErrorKind::usage,
                  fmt::format("lot {} of {} is there already, as record {}", terminal_safe(lot.lot_number),
                              terminal_safe(lot.supplier), other.id),
                  "--lot-number",
                  "go on with: switchwright lot run " + other.id +
                      ", or give the lot that comes again a number of its own and --resubmits " + other.id);
  lot.reduced_limit = options.reduced_limit;
  if (!lot.reduced_limit && !history.empty()) lot.reduced_limit = history.back().reduced_limit;
  resubmit(options, history, lot);
  choose_mode(options, history, lot);
  lot.drawing = options.drawing;
  lot.seed = static_cast<std::int64_t>(options.seed ? *options.seed : std::random_device{}());
  lot.full_every = options.full_every;
  LotQuality quality{lot.size,          lot.level,         lot.mode, options.critical_aql.value_or(0.0),
                     options.major_aql, options.minor_aql, {}};
  for (const std::string& text : options.agreed) quality.agreed.push_back(agreed_plan(text));
  lot.classes = class_plans(quality);
  int sample = 0;
  for (const LotClassPlan& plan : lot.classes) sample = std::max(sample, plan.sample_size);
  for (const long unit :
       draw_units(lot.size, sample, drawing_method_named(lot.drawing), static_cast<std::uint64_t>(lot.seed)))
    lot.units.push_back(static_cast<int>(unit));
  for (const std::string& text : options.references) lot.references.push_back(reference_from(text));
  for (const std::string& id : options.versions) {
    (void)load_profile(id, profile_places());
    lot.versions.push_back(id);
  }
  return lot;
}

void show(const LotOpening& lot, const RecordHeader& header, const std::string& id) {
  put_line(fmt::format("lot {} of {} from {}: {} units, {} parts, record {}", terminal_safe(lot.lot_number),
                       terminal_safe(header.part), terminal_safe(lot.supplier), lot.size, lot.condition, id));
  if (!lot.resubmits.empty())
    put_line(fmt::format("  comes again: not accepted as {}; since then: {}", lot.resubmits,
                         terminal_safe(lot.resubmitted_words)));
  put_line(fmt::format("  {} inspection, level {}: {}", lot.mode, lot.level, lot.mode_reason));
  for (const LotClassPlan& plan : lot.classes)
    put_line(fmt::format("  {:<9} {}test {} units{}, accept with {} defective, reject with {}", plan.severity,
                         plan.aql > 0.0 ? fmt::format("AQL {:g}: ", plan.aql) : "", plan.sample_size,
                         plan.code_letter.empty() ? "" : " (code letter " + plan.code_letter + ")", plan.accept,
                         plan.reject));
  std::vector<int> sorted = lot.units;
  std::sort(sorted.begin(), sorted.end());
  std::string numbers;
  for (std::size_t i = 0; i < sorted.size() && i < 40; ++i) numbers += (i ? " " : "") + std::to_string(sorted[i]);
  if (sorted.size() > 40) numbers += fmt::format(" ... ({} in all)", sorted.size());
  put_line(fmt::format("  units drawn ({}, seed {}): {}", lot.drawing, lot.seed, numbers));
  put_line("begin with: switchwright lot run " + id);
}

}  // namespace

int run(const LotOpenOptions& options) {
  Store store{store_place(options.store)};
  Choices choices;
  const Profile profile = choices.profile(options.profile);
  const MeterDefinition meter = choices.meter(options.meter);
  RecordHeader header = header_for(RecordKind::lot, profile, meter, "", options.simulated ? "sim:" : "person");
  header.part = wanted(choices, "part", "Part", "--part", options.part);
  Batch batch;
  batch.lot = planned(options, choices, store, header.part);
  header.operator_name =
      choices.asked() ? choices.text("operator", "Operator", options.operator_name) : options.operator_name;
  if (choices.asked()) choices.remember();
  const std::string id = store.begin(header);
  store.append(id, batch);
  if (options.json) {
    nlohmann::ordered_json line{{"type", "lot-opened"},
                                {"lot", id},
                                {"lot_number", batch.lot->lot_number},
                                {"size", batch.lot->size},
                                {"mode", batch.lot->mode},
                                {"mode_reason", batch.lot->mode_reason},
                                {"level", batch.lot->level},
                                {"drawing", batch.lot->drawing},
                                {"seed", batch.lot->seed},
                                {"units", batch.lot->units}};
    if (!batch.lot->resubmits.empty()) line["resubmits"] = batch.lot->resubmits;
    for (const LotClassPlan& plan : batch.lot->classes)
      line["classes"].push_back({{"severity", plan.severity},
                                 {"aql", plan.aql},
                                 {"code_letter", plan.code_letter},
                                 {"sample_size", plan.sample_size},
                                 {"accept", plan.accept},
                                 {"reject", plan.reject}});
    put_line(line.dump(-1, ' ', false, nlohmann::ordered_json::error_handler_t::replace));
  } else {
    show(*batch.lot, header, id);
  }
  return 0;
}

}  // namespace switchwright::cli
