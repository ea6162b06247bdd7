#include "cli/options/options_lot.hpp"

#include <CLI/CLI.hpp>
#include <memory>

#include "cli/options/option_tables.hpp"
#include "cli/options/option_values.hpp"
#include "cli/options/options_lot_plan.hpp"

namespace switchwright::cli {

namespace {

struct Table {
  LotOpenOptions open;
  LotRunOptions run;
  LotRunOptions next;
  LotRunOptions retest;
  LotStatusOptions status;
  LotUnitOptions lost;
  LotUnitOptions replaced;
  LotCloseOptions close;
  LotReportOptions report;
  LotHistoryOptions history;
};

template <class Options>
CLI::App* add(CLI::App& lot, const char* name, const char* what, Options& options, std::optional<Command>& chosen) {
  CLI::App* command = lot.add_subcommand(name, what);
  command->callback([&options, &chosen] { chosen = options; });
  command->add_option("--store", options.store, "record store (or SWITCHWRIGHT_STORE)")->type_name("PATH");
  return command;
}

CLI::Option* add_lot(CLI::App* command, std::string& lot) {
  return command->add_option("LOT", lot, "the lot: its number, its record or the beginning of it, or latest");
}

void describe_open(CLI::App& lot, LotOpenOptions& o, std::optional<Command>& chosen) {
  auto* open = add(lot, "open", "open a lot: plan the sample and draw the units", o, chosen);
  open->add_option("--part", o.part, "part number")->type_name("TEXT");
  open->add_option("--supplier", o.supplier, "who delivered it")->type_name("TEXT");
  open->add_option("--order", o.order, "order that it was delivered on")->type_name("TEXT");
  open->add_option("--lot-number", o.lot_number, "number of the lot")->type_name("TEXT");
  add_count(*open, "--size", o.size, 2, 500'000, "unit", "units in the lot");
  open->add_option(
          "--condition", o.condition,
          "new: never connected to a supply, so that absence of voltage is stated once per sitting; pulled: was in use, "
          "so that every unit is proven dead by itself")
      ->check(one_of({"new", "pulled"}));
  open->add_option("--profile", o.profile, "what the part should be")->type_name("ID");
  open->add_option("--meter", o.meter, "how the meter talks")->type_name("ID");
  open->add_option("--operator", o.operator_name, "who opens the lot")->type_name("TEXT");
  open->add_option("--level", o.level, "inspection level: I, II, III, S-1 to S-4")
      ->check(one_of({"I", "II", "III", "S-1", "S-2", "S-3", "S-4"}))
      ->capture_default_str();
  open->add_option("--mode", o.mode, "normal, tightened or reduced; default: as the supplier's history proposes")
      ->check(one_of({"normal", "tightened", "reduced"}));
  add_amount(
      *open, "--critical", o.critical_aql, Amount::percent, {0.0, 10.0, true},
      "AQL whose sample is taken for critical defects, which are accepted on zero; default: the largest sample of the other "
      "classes")
      ->type_name("AQL");
  add_amount(*open, "--major", o.major_aql, Amount::percent, {0.0, 1000.0, true}, "AQL of major defects")
      ->type_name("AQL")
      ->default_str("1.0");
  add_amount(*open, "--minor", o.minor_aql, Amount::percent, {0.0, 1000.0, true}, "AQL of minor defects")
      ->type_name("AQL")
      ->default_str("2.5");
  open->add_option(
          "--agreed", o.agreed,
          "a plan that was agreed on, in place of the table's: major=50:1 tests 50 units and accepts with 1 defective; may be "
          "repeated")
      ->type_name("CLASS=SIZE:ACCEPT")
      ->allow_extra_args(false);
  open->add_option("--draw", o.drawing, "how the units are drawn: random or systematic")
      ->check(one_of({"random", "systematic"}))
      ->capture_default_str();
  add_count(*open, "--seed", o.seed, 0, 4'000'000'000UL, "",
            "of the drawing, to draw the same units again; default: a new one");
  add_count(
      *open, "--reduced-limit", o.reduced_limit, 0, 500'000, "",
      "agreed with the supplier, whose production is steady: so many defective units in the samples of the last ten lots still "
      "allow reduced inspection");
  open->add_option("--resubmits", o.resubmits,
                   "this lot was not accepted before and comes again: the lot number or record that it had then")
      ->type_name("LOT");
  open->add_option("--rework", o.rework, "with --resubmits: what was done to its units since")->type_name("TEXT");
  open->add_option("--corrective-action", o.corrective_action,
                   "what the supplier put right, after five lots rejected on tightened inspection ended acceptance")
      ->type_name("TEXT");
  add_count(*open, "--full-every", o.full_every, 0, 500'000, "unit", "every so many units the full plan; 0: never")
      ->default_str("10");
  open->add_option(
          "--reference", o.references,
          "a resistor that the bench is checked with before each shift: NAME=OHM or NAME=OHM+-U (expanded, k = 2); may "
          "be repeated")
      ->type_name("NAME=OHM")
      ->allow_extra_args(false);
  open->add_option("--version", o.versions,
                   "another version of the part that may be in the carton: its profile; may be repeated")
      ->type_name("ID")
      ->allow_extra_args(false);
  open->add_flag("--simulated", o.simulated, "the carton is a simulated one; every report says so");
  open->add_flag("--json", o.json, "JSON Lines");
}

/// What run, next and retest share.
CLI::App* describe_testing(CLI::App& lot, const char* name, const char* what, LotRunOptions& o,
                           std::optional<Command>& chosen) {
  auto* run = add(lot, name, what, o, chosen);
  add_lot(run, o.lot);
  run->add_option("--port", o.port, "device path, tcp:HOST:PORT, rfc2217:HOST:PORT, or replay:FILE")->type_name("PORT");
  run->add_option("--hands", o.hands, "who moves probes and knob: person, or sim:SOCKET")->capture_default_str();
  run->add_option("--operator", o.operator_name, "who does the work")->type_name("TEXT");
  run->add_option("--own", o.own, "one of the shop's own meters, with its calibration (switchwright meters own)")
      ->type_name("NAME");
  run->add_option("--meter-serial", o.meter_serial, "serial number of the meter")->type_name("TEXT");
  run->add_option("--range", o.range, "on ohms, of a meter that does not show its range: auto, or its full scale")
      ->type_name("auto|OHM");
  add_amount(*run, "--ambient", o.ambient_c, Amount::celsius, {-60.0, 100.0}, "air around the meter in degrees Celsius")
      ->type_name("DEGREES");
  run->add_option(
         "--acknowledge", o.acknowledge,
         "state without being asked, for this sitting: never-connected (a lot of new parts), de-energised (of pulled ones); "
         "no-dc-voltage, no-ac-voltage (found with another instrument); may be repeated")
      ->check(one_of({"never-connected", "de-energised", "no-dc-voltage", "no-ac-voltage"}))
      ->allow_extra_args(false);
  run->add_option("--inspected", o.inspected, "answer all visual questions: yes or no")->check(one_of({"yes", "no"}));
  run->add_option(
         "--repeated", o.repeated,
         "a serial number that was had before: same (the same piece once more) or other (another piece that bears it too)")
      ->check(one_of({"same", "other"}));
  run->add_option("--plan", o.plan,
                  "short or full for every unit; default: short, and full for every k-th and for what deviates")
      ->check(one_of({"short", "full"}));
  add_time(*run, "--break-after", o.break_s, run_range, "longer without work, and a new sitting begins")
      ->default_str("30m");
  add_time(*run, "--check-every", o.check_every_s, run_range, "how long a bench check stands")->default_str("8h");
  add_time(*run, "--settle", o.settle_s, settle_range, "a reading has settled when it agrees for this long")
      ->default_str("0.6s");
  add_time(*run, "--patience", o.patience_s, patience_range,
           "hands other than a person: give up when nothing settles for this long")
      ->default_str("30s");
  run->add_flag("--json", o.json, "JSON Lines: every event, and how the lot stands after each unit");
  return run;
}

void describe_units(CLI::App& lot, Table& t, std::optional<Command>& chosen) {
  t.lost.action = LotUnitOptions::Action::lost;
  t.replaced.action = LotUnitOptions::Action::replaced;
  const auto unit = [&](const char* name, const char* what, LotUnitOptions& o) {
    auto* command = add(lot, name, what, o, chosen);
    add_lot(command, o.lot);
    command->add_option("--unit", o.unit, "number in the carton, or serial number")->type_name("UNIT")->required();
    command->add_option("--reason", o.reason, "stands in the report")->type_name("TEXT")->required();
    command->add_option("--operator", o.operator_name, "who says so")->type_name("TEXT");
    command->add_flag("--json", o.json, "JSON Lines");
    return command;
  };
  unit("lost", "a unit of the sample cannot be had any more", t.lost);
  auto* replace =
      unit("replace", "put another unit of the carton in the place of one that is lost or was not tested", t.replaced);
  add_count(*replace, "--by", t.replaced.by, 1, 500'000, "", "the unit that takes its place; default: drawn at random");
}

}  // namespace

void describe_lot(CLI::App& app, std::optional<Command>& chosen) {
  auto* lot = app.add_subcommand("lot", "incoming inspection: from the carton to a decision");
  lot->require_subcommand(1);
  const auto table = std::make_shared<Table>();
  lot->parse_complete_callback([table] {});  // the table lives as long as the command
  Table& t = *table;
  describe_lot_plan(*lot, chosen);
  describe_open(*lot, t.open, chosen);

  auto* run = describe_testing(
      *lot, "run", "test the units, one at once after the other, until the decision is certain", t.run, chosen);
  run->add_option("--serials", t.run.serials,
                  "serial numbers, one a line, as a barcode scanner types them: a file, or - for standard input")
      ->type_name("FILE");
  run->add_flag("--finish", t.run.finish, "go on to the end of the sample also when the decision is certain");

  t.next.one = true;
  auto* next = describe_testing(*lot, "next", "test one unit", t.next, chosen);
  next->add_option("--serial", t.next.serial, "serial number of the unit")->type_name("TEXT");
  add_stated(*next, t.next.stated);
  next->add_flag("--finish", t.next.finish, "also when the decision is certain");

  t.retest.one = true;
  auto* retest = describe_testing(*lot, "retest", "test a unit once more; what it had before stays", t.retest, chosen);
  add_count(*retest, "--unit", t.retest.retest, 1, 500'000, "", "number in the carton")->required();
  add_stated(*retest, t.retest.stated);
  retest->add_option("--reason", t.retest.reason, "stands in the report")->type_name("TEXT")->required();

  auto* status = add(*lot, "status", "how a lot stands, or all of them", t.status, chosen);
  add_lot(status, t.status.lot);
  status->add_flag("--json", t.status.json, "JSON Lines");

  describe_units(*lot, t, chosen);

  auto* close = add(*lot, "close", "accept, reject or hold, with the reason", t.close, chosen);
  add_lot(close, t.close.lot);
  close->add_option("--operator", t.close.operator_name, "who decides")->type_name("TEXT");
  close->add_flag("--json", t.close.json, "JSON Lines");

  auto* report = add(*lot, "report", "the lot as a document", t.report, chosen);
  add_lot(report, t.report.lot);
  report->add_option("--format", t.report.format, "html, pdf, csv; default: by the file's ending, else html")
      ->check(one_of({"html", "pdf", "csv"}));
  report->add_option("-o,--output", t.report.output, "file to write; default: standard output")->type_name("FILE");

  auto* history =
      add(*lot, "history", "the lots of a part from a supplier, and the mode of the next", t.history, chosen);
  history->add_option("--part", t.history.part, "part number")->type_name("TEXT")->required();
  history->add_option("--supplier", t.history.supplier, "who delivers it")->type_name("TEXT")->required();
  add_count(*history, "--reduced-limit", t.history.reduced_limit, 0, 500'000, "", "as in lot open");
  history->add_option("--picture", t.history.picture, "draw the course of the mode")->type_name("FILE.svg");
  history->add_flag("--json", t.history.json, "JSON Lines");
}

}  // namespace switchwright::cli
