#include "cli/options/options_trace.hpp"

#include <CLI/CLI.hpp>
#include <memory>

#include "cli/options/option_tables.hpp"
#include "cli/options/option_values.hpp"
#include "switchwright/core/amount.hpp"
#include "switchwright/suit/fit.hpp"

namespace switchwright::cli {

double parse_volts(const std::string& text) { return read_amount(text, Amount::volts, {0.0, 1e5, true}, "--supply"); }

double parse_load_ohm(const std::string& text) { return read_load_ohm(text, "--load"); }

double parse_celsius(const std::string& text) {
  return read_amount(text, Amount::celsius, {-60.0, 200.0}, "--ambient");
}

void describe_tracing(CLI::App& app, std::optional<Command>& chosen) {
  // The options live as long as the parser that fills them.
  const auto t = std::make_shared<TraceOptions>();
  auto* trace = app.add_subcommand("trace", "record cycling under power, and time it with its uncertainty");
  trace->callback([t, &chosen] { chosen = *t; });
  trace->add_option("--profile", t->profile, "what the part should be")->type_name("ID");
  trace->add_option("--position", t->position, "where the knob stands")->type_name("ID");
  trace
      ->add_option("--channel", t->channels,
                   "what is measured, with which meter, where; repeat it for each meter. The names load, line and "
                   "pilot, and those of the profile's loads, say the role; any other needs --role")
      ->type_name("NAME=METER@PORT");
  trace->add_option("--role", t->roles, "what a channel is connected to: load, line, pilot, or other (not judged)")
      ->type_name("NAME=ROLE");
  trace
      ->add_option("--own", t->own,
                   "which of the shop's own meters a channel is, with its calibration (switchwright meters own); "
                   "CHANNEL= may be left out where there is one")
      ->type_name("CHANNEL=NAME");
  trace->add_option("--meter-serial", t->meter_serial, "serial number of a channel's meter")->type_name("CHANNEL=TEXT");
  auto* for_time = add_time(*trace, "--for", t->for_s, run_range, "stop after this time");
  add_count(*trace, "--cycles", t->cycles, 1, 1'000'000'000, "cycle", "stop after so many complete cycles of the load")
      ->excludes(for_time);
  const auto checked = [trace](const char* name, std::string& target, double (*parse)(const std::string&),
                               const char* type, const char* help) {
    trace
        ->add_option_function<std::string>(
            name, [&target, parse](const std::string& text) { parse(text), target = text; }, help)
        ->type_name(type);
  };
  checked("--supply", t->supply, parse_volts, "V", "supply voltage, as stated; a line channel measures it");
  checked("--load", t->load, parse_load_ohm, "LOAD", "the load: 2800W@240, or 21ohm");
  checked("--ambient", t->ambient, parse_celsius, "DEGREES", "ambient temperature in degrees Celsius");
  trace->add_option("--setting", t->setting, "how the knob stands, in words")->type_name("TEXT");
  trace->add_option("--part", t->part, "part number or name")->type_name("TEXT");
  trace->add_option("--serial", t->serial, "serial number or tag of this piece; its operations are added up")
      ->type_name("TEXT");
  add_claim(*trace, t->claim);
  trace->add_option("--operator", t->operator_name, "who does the work")->type_name("TEXT");
  trace->add_option("--acknowledge", t->acknowledge, "state without being asked: energised")
      ->check(one_of({"energised"}));
  add_require(trace, t->require);
  trace->add_option("--rule", t->rule, "decision rule: guarded (guard band U on both sides) or simple")
      ->check(one_of({"guarded", "simple"}))
      ->capture_default_str();
  trace->add_option("--report", t->report, "write a report at the end (.html, .txt, .json, .csv)")->type_name("FILE");
  trace->add_option("--store", t->store, "record store (or SWITCHWRIGHT_STORE)")->type_name("PATH");
  trace->add_flag("--simulated", t->simulated, "the part is the simulator: every report says so");
  trace->add_flag("--json", t->json,
                  "JSON Lines: samples, edges, cycles, links; then a summary per channel and the verdict");

  const auto a = std::make_shared<AnalyzeOptions>();
  auto* analyze = app.add_subcommand("analyze", "time the cycles in a recorded series (CSV)");
  analyze->callback([a, &chosen] { chosen = *a; });
  analyze
      ->add_option("FILE", a->file,
                   "header line, time in the first column, a channel in each further one; - for standard input")
      ->required();
  auto* profile = analyze->add_option("--profile", a->profile, "judge against this part")->type_name("ID");
  analyze->add_option("--position", a->position, "where the knob stood")->type_name("ID")->needs(profile);
  add_amount(*analyze, "--supply", a->supply_v, Amount::volts, {0.0, 1e5, true}, "supply voltage, as stated")
      ->type_name("V")
      ->needs(profile);
  analyze
      ->add_option_function<std::string>(
          "--load", [a](const std::string& text) { a->load_ohm = parse_load_ohm(text); },
          "the load: 2800W@240, or 21ohm")
      ->type_name("LOAD")
      ->needs(profile);
  add_require(analyze, a->require);
  analyze->add_option("--rule", a->rule, "decision rule: guarded (guard band U on both sides) or simple")
      ->check(one_of({"guarded", "simple"}))
      ->capture_default_str()
      ->needs(profile);
  analyze
      ->add_option(
          "--role", a->roles,
          "what a column was connected to: load, line, pilot, or other (not judged); needed for names other than "
          "load, line and pilot, but not for a single column")
      ->type_name("COLUMN=ROLE")
      ->needs(profile);
  add_time(*analyze, "--update", a->update_s, {0.0, 1e4, true},
           "how often the meter's display changes, where it was read more often than that");
  analyze
      ->add_option_function<std::string>(
          "--time-unit",
          [a](const std::string& unit) {
            a->time_unit_s = unit == "s" ? 1.0 : unit == "ms" ? 1e-3 : unit == "us" ? 1e-6 : 60.0;
          },
          "unit of the time column; without it the column's name and size tell")
      ->check(one_of({"s", "ms", "us", "min"}));
  analyze->add_option("--picture", a->picture, "draw trace, cycles and histogram of every channel")
      ->type_name("FILE.svg")
      ->check(CLI::Validator{[](std::string& name) {
                               return name.ends_with(".svg")
                                          ? std::string{}
                                          : "a picture is written as SVG only: let its name end in .svg";
                             },
                             "FILE.svg"});
  analyze->add_flag("--json", a->json, "JSON Lines: an object per complete cycle, then a summary per channel");
}

}  // namespace switchwright::cli
