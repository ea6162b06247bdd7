#include "cli/options/options_trace.hpp"

#include "cli/options/option_tables.hpp"

#include <CLI/CLI.hpp>
#include <charconv>
#include <memory>

#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"

namespace switchwright::cli {

namespace {

struct Amount {
  double value = 0.0;
  std::string unit;  ///< what follows, without blanks, lower case
};

std::optional<Amount> amount_of(const std::string& text) {
  std::string tight;
  for (const char c : text)
    if (c != ' ') tight += static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
  Amount amount;
  const auto [end, error] = std::from_chars(tight.data(), tight.data() + tight.size(), amount.value);
  if (error != std::errc{} || !(amount.value > -1e9 && amount.value < 1e9)) return std::nullopt;
  amount.unit = std::string{static_cast<const char*>(end)};
  return amount;
}

Error wrong(const std::string& text, const char* what, const char* how) {
  return Error(ErrorKind::usage, "\"" + terminal_safe(text) + "\" is not " + what, "", how);
}

template <class Parse>
CLI::Validator checked(Parse parse, const char* type) {
  return CLI::Validator{[parse](std::string& text) {
                          try {
                            parse(text);
                            return std::string{};
                          } catch (const Error& error) {
                            return std::string{error.what()};
                          }
                        },
                        type};
}

}  // namespace

double parse_volts(const std::string& text) {
  const auto amount = amount_of(text);
  if (!amount || !(amount->unit.empty() || amount->unit == "v") || amount->value <= 0.0)
    throw wrong(text, "a voltage", "write it like 240");
  return amount->value;
}

double parse_load_ohm(const std::string& text) {
  constexpr const char* how = "write it like 2800W@240, or 21ohm";
  if (const auto at = text.find('@'); at != std::string::npos) {
    const auto power = amount_of(text.substr(0, at));
    const double volts = parse_volts(text.substr(at + 1));
    if (!power || power->value <= 0.0 || !(power->unit == "w" || power->unit == "kw"))
      throw wrong(text, "a load", how);
    return volts * volts / (power->value * (power->unit == "kw" ? 1000.0 : 1.0));
  }
  const auto ohm = amount_of(text);
  if (!ohm || ohm->value <= 0.0 || !(ohm->unit.empty() || ohm->unit == "ohm"))
    throw wrong(text, "a load", how);
  return ohm->value;
}

double parse_celsius(const std::string& text) {
  const auto amount = amount_of(text);
  if (!amount || !(amount->unit.empty() || amount->unit == "c" || amount->unit == "degc") ||
      amount->value < -60.0 || amount->value > 200.0)
    throw wrong(text, "a temperature", "write it in degrees Celsius, like 23");
  return amount->value;
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
                   "what is measured, with which meter, where; repeat it for each meter. "
                   "Names with line or pilot in them are judged as such")
      ->type_name("NAME=METER@PORT");
  trace
      ->add_option(
          "--own", t->own,
          "which of the shop's own meters a channel is, with its calibration (switchwright meters own); "
          "CHANNEL= may be left out where there is one")
      ->type_name("CHANNEL=NAME");
  trace->add_option("--meter-serial", t->meter_serial, "serial number of a channel's meter")
      ->type_name("CHANNEL=TEXT");
  auto* for_time = trace->add_option_function<std::string>(
      "--for", [t](const std::string& text) { t->for_s = parse_time(text); }, "stop after this time");
  for_time->check(checked([](const std::string& text) { parse_time(text); }, "TIME"));
  trace->add_option("--cycles", t->cycles, "stop after so many complete cycles of the load")
      ->check(CLI::PositiveNumber)
      ->excludes(for_time);
  trace->add_option("--supply", t->supply, "supply voltage, as stated; a line channel measures it")
      ->check(checked([](const std::string& text) { parse_volts(text); }, "V"));
  trace->add_option("--load", t->load, "the load: 2800W@240, or 21ohm")
      ->check(checked([](const std::string& text) { parse_load_ohm(text); }, "LOAD"));
  trace->add_option("--ambient", t->ambient, "ambient temperature in degrees Celsius")
      ->check(checked([](const std::string& text) { parse_celsius(text); }, "DEGREES"));
  trace->add_option("--setting", t->setting, "how the knob stands, in words")->type_name("TEXT");
  trace->add_option("--part", t->part, "part number or name")->type_name("TEXT");
  trace->add_option("--serial", t->serial, "serial number or tag of this piece; its operations are added up")
      ->type_name("TEXT");
  trace->add_option("--operator", t->operator_name, "who does the work")->type_name("TEXT");
  trace->add_option("--acknowledge", t->acknowledge, "state without being asked: energised")
      ->check(CLI::IsMember({"energised"}));
  add_require(trace, t->require);
  trace->add_option("--rule", t->rule, "decision rule: guarded (guard band U on both sides) or simple")
      ->check(CLI::IsMember({"guarded", "simple"}))
      ->capture_default_str();
  trace->add_option("--report", t->report, "write a report at the end (.html, .txt, .json, .csv)")
      ->type_name("FILE");
  trace->add_option("--store", t->store, "record store (or SWITCHWRIGHT_STORE)")->type_name("PATH");
  trace->add_flag("--simulated", t->simulated, "the part is the simulator: every report says so");
  trace->add_flag("--json", t->json,
                  "JSON Lines: samples, edges, cycles, links; then a summary per channel and the verdict");

  const auto a = std::make_shared<AnalyzeOptions>();
  auto* analyze = app.add_subcommand("analyze", "time the cycles in a recorded series (CSV)");
  analyze->callback([a, &chosen] { chosen = *a; });
  analyze
      ->add_option(
          "FILE", a->file,
          "header line, time in the first column, a channel in each further one; - for standard input")
      ->required();
  auto* profile = analyze->add_option("--profile", a->profile, "judge against this part")->type_name("ID");
  analyze->add_option("--position", a->position, "where the knob stood")->type_name("ID")->needs(profile);
  analyze
      ->add_option_function<std::string>(
          "--supply", [a](const std::string& text) { a->supply_v = parse_volts(text); },
          "supply voltage, as stated")
      ->check(checked([](const std::string& text) { parse_volts(text); }, "V"))
      ->needs(profile);
  analyze
      ->add_option_function<std::string>(
          "--load", [a](const std::string& text) { a->load_ohm = parse_load_ohm(text); },
          "the load: 2800W@240, or 21ohm")
      ->check(checked([](const std::string& text) { parse_load_ohm(text); }, "LOAD"))
      ->needs(profile);
  add_require(analyze, a->require);
  analyze->add_option("--rule", a->rule, "decision rule: guarded (guard band U on both sides) or simple")
      ->check(CLI::IsMember({"guarded", "simple"}))
      ->capture_default_str()
      ->needs(profile);
  analyze->add_option("--picture", a->picture, "draw trace, cycles and histogram of every channel")
      ->type_name("FILE.svg");
  analyze->add_flag("--json", a->json,
                    "JSON Lines: an object per complete cycle, then a summary per channel");
}

}  // namespace switchwright::cli
