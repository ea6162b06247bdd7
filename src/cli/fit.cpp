#include "switchwright/suit/fit.hpp"

#include <fmt/format.h>

#include <nlohmann/json.hpp>

#include "cli/options/options.hpp"
#include "cli/output.hpp"
#include "cli/verdict_exit.hpp"
#include "cli/choose/places.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/profile/library.hpp"
#include "switchwright/record/store.hpp"

namespace switchwright::cli {

namespace {

using Json = nlohmann::ordered_json;

const char* answer_word(Outcome outcome) {
  return outcome == Outcome::pass ? "suits" : outcome == Outcome::fail ? "does not suit" : "cannot say";
}

void take_record(FitRequest& request, const Profile& profile, const FitOptions& options) {
  const Record record = Store{store_place(options.store)}.load(options.record);
  if (record.header.profile_id != profile.id)
    throw Error(ErrorKind::usage, "record " + record.header.id + " is of a " + record.header.profile_id, "--record",
                "give a record of a " + profile.id + ", or --profile " + record.header.profile_id);
  if (record.header.simulated)
    say("record " + record.header.id + " was measured on the simulator, not on a part");
  request.record = record.header.id;
  request.record_outcome = record.verdict ? record.verdict->outcome : Outcome::undecided;
  if (record.verdict) request.record_title = title_of(*record.verdict);
  if (record.verdict) request.contacts = measured_contacts(profile, *record.verdict);
}

void print_json(const Profile& profile, const FitRequest& request, const Fit& fit) {
  for (const FitFigure& figure : fit.figures) {
    Json json{{"type", "figure"}, {"figure", figure.id}, {"value", figure.value}, {"unit", figure.unit}};
    if (figure.limit) json["limit"] = *figure.limit;
    if (figure.outcome) json["outcome"] = to_string(*figure.outcome);
    json["text"] = figure.words;
    json["formula"] = figure.formula;
    json["source"] = figure.source;
    json["not_covered"] = figure.not_covered;
    put_line(json.dump());
  }
  Json json{{"type", "fit"},           {"profile", profile.id},        {"supply_v", request.supply_v},
            {"current_a", fit.current_a}, {"outcome", to_string(fit.outcome)}, {"answer", answer_word(fit.outcome)}};
  if (!request.record.empty()) json["record"] = request.record;
  json["text"] = fit.headline;
  json["not_covered"] = fit.not_covered;
  put_line(json.dump());
}

std::string painted(const std::string& text, Outcome outcome) {
  if (!colour()) return text;
  const char* code = outcome == Outcome::pass ? "1;32" : outcome == Outcome::fail ? "1;31" : "1;33";
  return "\x1b[" + std::string{code} + "m" + text + "\x1b[0m";
}

/// Text in lines of at most 100 columns, the following lines indented.
std::string wrapped(const std::string& text, const std::string& first, const std::string& indent) {
  std::string out;
  std::string line = first;
  std::size_t from = 0;
  bool fresh = true;
  while (from < text.size()) {
    std::size_t end = text.find(' ', from);
    if (end == std::string::npos) end = text.size();
    const std::string word = text.substr(from, end - from);
    if (!fresh && line.size() + 1 + word.size() > 100) {
      out += line + "\n";
      line = indent;
      fresh = true;
    }
    line += (fresh ? "" : " ") + word;
    fresh = false;
    from = end + 1;
  }
  return out + line;
}

void print_words(const Profile& profile, const FitRequest& request, const Fit& fit) {
  put_line(fmt::format("Does {} suit {:g} V and {:.2f} A?", profile.id, request.supply_v, fit.current_a));
  put_line("  profile values: " + terminal_safe(profile.values));
  put_line("");
  for (const FitFigure& figure : fit.figures) {
    const Outcome outcome = figure.outcome.value_or(Outcome::pass);
    const std::string mark = outcome == Outcome::pass ? "yes" : outcome == Outcome::fail ? "NO" : "?";
    std::string block = wrapped(figure.words, fmt::format("  {:<4} ", mark), "       ");
    put_line(block.replace(2, mark.size(), painted(mark, outcome)));
    if (!figure.formula.empty()) put_line("       formula      " + figure.formula);
    put_line(wrapped(figure.source, "       source       ", "                    "));
    put_line(wrapped(figure.not_covered, "       not covered  ", "                    "));
  }
  put_line("\nNot looked at:");
  for (const std::string& item : fit.not_covered) put_line("  - " + item);
  std::string word = answer_word(fit.outcome);
  for (char& c : word) c = static_cast<char>(std::toupper(static_cast<unsigned char>(c)));
  std::string why = fit.headline;  // the capitals say the first sentence already
  for (const char* said : {"It suits: ", "It does not suit. ", "Cannot say. "})
    if (why.starts_with(said)) why.erase(0, std::string_view{said}.size());
  put_line("\n" + painted(word, fit.outcome) + "  " + wrapped(why, "", "  "));
  put_line("Local codes, the appliance's instructions and licensed practice come first.");
}

}  // namespace

int run(const FitOptions& options) {
  const Profile profile = load_profile(options.profile, profile_places());
  FitRequest request;
  request.supply_v = options.supply_v;
  request.load = parse_load(options.load);
  request.awg = options.awg;
  request.tab_inch = options.tab_inch;
  if (!options.record.empty()) take_record(request, profile, options);
  const Fit result = fit(profile, request);
  options.json ? print_json(profile, request, result) : print_words(profile, request, result);
  return exit_code(result.outcome);
}

}  // namespace switchwright::cli
