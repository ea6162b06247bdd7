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

void choose_mode(const LotOpenOptions& options, const std::vector<LotInHistory>& history, LotOpening& lot) {
  const ProposedMode proposed = proposed_mode(history, options.reduced_limit);
  lot.mode = options.mode.empty() ? proposed.mode : options.mode;
  lot.mode_reason =
      options.mode.empty() || options.mode == proposed.mode
          ? proposed.reason
          : fmt::format("Chosen by the operator; the history proposes {}: {}", proposed.mode, proposed.reason);
  if (proposed.discontinued) say("Warning: " + proposed.reason);
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
    if (other.lot_number == lot.lot_number)
      throw Error(ErrorKind::usage,
                  fmt::format("lot {} of {} is there already, as record {}", terminal_safe(lot.lot_number),
                              terminal_safe(lot.supplier), other.id),
                  "--lot-number",
                  "go on with: switchwright lot run " + other.id + ", or give the resubmitted lot a number of its own");
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
