#include "switchwright/suit/fit.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cctype>
#include <nlohmann/json.hpp>

#include "cli/choose/places.hpp"
#include "cli/options/options.hpp"
#include "cli/output.hpp"
#include "cli/verdict_exit.hpp"
#include "cli/view/terminal.hpp"
#include "cli/write_report.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/profile/library.hpp"
#include "switchwright/profile/unfinished.hpp"
#include "switchwright/record/store.hpp"

namespace switchwright::cli {

namespace {

using Json = nlohmann::ordered_json;

const char* answer_word(Outcome outcome) {
  return outcome == Outcome::pass ? "suits" : outcome == Outcome::fail ? "does not suit" : "cannot say";
}

void take_record(FitRequest& request, const Profile& profile, const FitOptions& options) {
  const Record record = load_whole_record(Store{store_place(options.store)}, options.record);
  if (record.header.profile_id != profile.id)
    throw Error(ErrorKind::usage, "record " + record.header.id + " is of a " + record.header.profile_id, "--record",
                "give a record of a " + profile.id + ", or --profile " + record.header.profile_id);
  if (record.header.simulated) say("record " + record.header.id + " was measured on the simulator, not on a part");
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
  Json json{{"type", "fit"},
            {"profile", profile.id},
            {"supply_v", request.supply_v},
            {"current_a", fit.current_a},
            {"outcome", to_string(fit.outcome)},
            {"answer", answer_word(fit.outcome)}};
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

/// The answer and its reason first, then figure by figure, what nobody looked at last.
void print_words(const Profile& profile, const FitRequest& request, const Fit& fit) {
  const std::size_t columns = stdout_is_terminal() ? std::min<std::size_t>(terminal_size().columns, 100) : 100;
  std::string word = answer_word(fit.outcome);
  for (char& c : word) c = static_cast<char>(std::toupper(static_cast<unsigned char>(c)));
  std::string why = fit.headline;  // the capitals say the first sentence already
  for (const char* said : {"It suits: ", "It does not suit. ", "Cannot say. "})
    if (why.starts_with(said)) why.erase(0, std::string_view{said}.size());
  if (!why.empty()) why[0] = static_cast<char>(std::toupper(static_cast<unsigned char>(why[0])));
  put_line(painted(word, fit.outcome));
  put(paragraph("  ", terminal_safe(why), columns));
  put_line("");
  put(paragraph("", fmt::format("Does {} suit {:g} V and {:.2f} A?", profile.id, request.supply_v, fit.current_a),
                columns));
  put(paragraph("  profile values: ", terminal_safe(profile.values), columns));
  put_line("");
  for (const FitFigure& figure : fit.figures) {
    const Outcome outcome = figure.outcome.value_or(Outcome::pass);
    const std::string mark = outcome == Outcome::pass ? "yes" : outcome == Outcome::fail ? "NO" : "?";
    std::string block = paragraph(fmt::format("  {:<4} ", mark), terminal_safe(figure.words), columns);
    put(block.replace(2, mark.size(), painted(mark, outcome)));
    if (!figure.formula.empty()) put(paragraph("       formula      ", figure.formula, columns));
    put(paragraph("       source       ", figure.source, columns));
    put(paragraph("       not covered  ", figure.not_covered, columns));
  }
  put_line("\nNot looked at:");
  for (const std::string& item : fit.not_covered) put(paragraph("  - ", item, columns));
  put_line("");
  put(paragraph("", "Local codes, the appliance's instructions and licensed practice come first.", columns));
}

}  // namespace

int run(const FitOptions& options) {
  const Profile profile = load_profile(options.profile, profile_places());
  if (!rating_is_stated(profile))
    throw Error(ErrorKind::usage, "the rating of " + profile.id + " is not stated, so nothing can be held against it",
                profile.path.string(),
                "write what is stamped on the part under [rating] and take \"stated = false\" out");
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
