// lot study: is the bench fit to judge?
#include <fmt/format.h>

#include <fstream>
#include <iostream>
#include <iterator>
#include <nlohmann/json.hpp>

#include "cli/options/options.hpp"
#include "cli/output.hpp"
#include "cli/view/table.hpp"
#include "cli/view/terminal.hpp"
#include "switchwright/core/amount.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/lot/study.hpp"

namespace switchwright::cli {

namespace {

using Json = nlohmann::ordered_json;
using Fitness = GaugeStudy::Fitness;

std::string content_of(const std::string& file) {
  if (file == "-") return {std::istreambuf_iterator<char>(std::cin), {}};
  std::ifstream in(file, std::ios::binary);
  std::string content{std::istreambuf_iterator<char>(in), {}};
  if (!in.is_open() || in.bad())
    throw Error(ErrorKind::usage, "the file cannot be read", terminal_safe(file),
                "check its name; - reads standard input");
  return content;
}

const char* word(Fitness fitness) {
  return fitness == Fitness::fit ? "fit" : fitness == Fitness::marginal ? "marginal" : "unfit";
}
/// The exit code says what the word says: 0 fit, 3 marginal, 1 unfit.
int exit_code(Fitness fitness) { return fitness == Fitness::fit ? 0 : fitness == Fitness::marginal ? 3 : 1; }

void print_answer(Fitness fitness, const std::string& words) {
  const char* name = fitness == Fitness::fit ? "FIT" : fitness == Fitness::marginal ? "MARGINAL" : "UNFIT";
  const char* code = fitness == Fitness::fit ? "1;32" : fitness == Fitness::marginal ? "1;33" : "1;31";
  put_line(colour() ? fmt::format("\x1b[{}m{}\x1b[0m", code, name) : std::string{name});
  put(paragraph("  ", words, 100));
}

void print_json(const GaugeStudy& study) {
  for (const VarianceRow& row : study.rows) {
    Json json{{"type", "variance"}, {"source", row.source}, {"df", row.df}, {"sum_of_squares", row.sum_of_squares}};
    if (row.source != "total") json["mean_square"] = row.mean_square;
    if (row.f) json["f"] = *row.f;
    if (row.p) json["p"] = *row.p;
    put_line(json.dump());
  }
  Json json{{"type", "study"},
            {"parts", study.parts},
            {"operators", study.operators},
            {"repeats", study.repeats},
            {"interaction_pooled", study.interaction_pooled}};
  const auto share = [&](const char* name, const SpreadShare& s) {
    json[name] = {{"sd", s.sd}, {"of_total_pct", s.of_total_pct}, {"of_variance_pct", s.of_variance_pct}};
    if (s.of_tolerance_pct) json[name]["of_tolerance_pct"] = *s.of_tolerance_pct;
  };
  share("repeatability", study.repeatability);
  share("reproducibility", study.reproducibility);
  share("gauge", study.gauge);
  share("part", study.part);
  share("total", study.total);
  if (study.distinct_categories) json["distinct_categories"] = *study.distinct_categories;
  json["fitness"] = word(study.fitness);
  json["text"] = study.words;
  put_line(json.dump());
}

void print_words(const GaugeStudy& study) {
  print_answer(study.fitness, study.words);
  put_line("");
  put_line(fmt::format("{} parts by {} operators by {} repeats", study.parts, study.operators, study.repeats));
  const bool tolerance = study.gauge.of_tolerance_pct.has_value();
  std::vector<std::string> heads{"spread of", "standard deviation", "of the total"};
  if (tolerance) heads.push_back("of the tolerance");
  heads.push_back("of the variance");
  Table table{heads};
  const auto add = [&](const char* name, const SpreadShare& s) {
    std::vector<std::string> row{name, fmt::format("{:.4g}", s.sd), fmt::format("{:.1f} %", s.of_total_pct)};
    if (tolerance) row.push_back(fmt::format("{:.1f} %", *s.of_tolerance_pct));
    row.push_back(fmt::format("{:.1f} %", s.of_variance_pct));
    table.add(row);
  };
  add("repeatability (one operator)", study.repeatability);
  add("reproducibility (between operators)", study.reproducibility);
  add("both (R&R)", study.gauge);
  add("the parts", study.part);
  add("total", study.total);
  put(table.text("  "));
  put_line(fmt::format("  distinct categories of parts: {}",
                       study.distinct_categories ? fmt::format("{}", *study.distinct_categories) : "not known"));
  put_line("");
  put_line("Analysis of variance");
  Table variance{{"source", "df", "sum of squares", "mean square", "F", "p"}};
  for (const VarianceRow& row : study.rows)
    variance.add({row.source, fmt::format("{}", row.df), fmt::format("{:.5g}", row.sum_of_squares),
                  row.source == "total" ? "" : fmt::format("{:.5g}", row.mean_square),
                  row.f ? fmt::format("{:.3f}", *row.f) : "",
                  row.p ? (*row.p < 0.0001 ? "< 0.0001" : fmt::format("{:.4f}", *row.p)) : ""});
  put(variance.text("  "));
  if (study.interaction_pooled)
    put(paragraph("  ",
                  "The interaction of part and operator is not significant (p above 0.25) and counts as repeatability.",
                  100));
}

Json agreement_json(const Agreement& agreement) {
  Json json{{"who", agreement.who},
            {"agreed", agreement.agreed},
            {"of", agreement.of},
            {"low", agreement.limits.low},
            {"high", agreement.limits.high}};
  if (agreement.kappa) json["kappa"] = *agreement.kappa;
  return json;
}

void print_json(const AgreementStudy& study) {
  const auto all = [](const char* type, const std::vector<Agreement>& list) {
    for (const Agreement& one : list) {
      Json json{{"type", type}};
      json.update(agreement_json(one));
      put_line(json.dump());
    }
  };
  all("within", study.within);
  all("between", study.between);
  for (const AgainstReference& one : study.against) {
    Json json{{"type", "reference"}};
    json.update(agreement_json(one.agreement));
    json.update(Json{
        {"false_passes", one.false_passes}, {"bad", one.bad}, {"false_fails", one.false_fails}, {"good", one.good}});
    if (one.bad > 0) json["largest_false_pass_share"] = one.largest_false_pass;
    put_line(json.dump());
  }
  Json json{{"type", "study"}, {"parts", study.parts}, {"operators", study.operators}, {"repeats", study.repeats}};
  if (study.fleiss_kappa) json["fleiss_kappa"] = *study.fleiss_kappa;
  json["fitness"] = word(study.fitness);
  json["text"] = study.words;
  put_line(json.dump());
}

void print_words(const AgreementStudy& study) {
  print_answer(study.fitness, study.words);
  put_line("");
  put_line(
      fmt::format("{} parts by {} operators by {} repeats, pass or fail", study.parts, study.operators, study.repeats));
  const auto kappa = [](const std::optional<double>& value) {
    return value ? fmt::format("{:.2f}", *value) : std::string{};
  };
  Table table{{"agreement", "agreed", "share, 95 % limits", "kappa"}};
  const auto add = [&](const std::string& name, const Agreement& a) {
    table.add(
        {name, fmt::format("{} of {}", a.agreed, a.of),
         fmt::format("{:.1f} % ({:.1f} to {:.1f})", 100.0 * static_cast<double>(a.agreed) / static_cast<double>(a.of),
                     100.0 * a.limits.low, 100.0 * a.limits.high),
         kappa(a.kappa)});
  };
  for (const Agreement& one : study.within) add(terminal_safe(one.who) + " with himself or herself", one);
  for (const Agreement& one : study.between) add(terminal_safe(one.who), one);
  for (const AgainstReference& one : study.against)
    add(terminal_safe(one.agreement.who) + " with the reference", one.agreement);
  put(table.text("  "));
  if (study.fleiss_kappa) put_line(fmt::format("  all calls together: kappa {:.2f}", *study.fleiss_kappa));
  if (study.against.empty()) return;
  put_line("");
  Table misses{{"against the reference", "bad parts passed", "at most, with 95 %", "good parts failed"}};
  for (const AgainstReference& one : study.against)
    misses.add({terminal_safe(one.agreement.who), fmt::format("{} of {}", one.false_passes, one.bad),
                one.bad > 0 ? fmt::format("{:.1f} %", 100.0 * one.largest_false_pass) : "not known",
                fmt::format("{} of {}", one.false_fails, one.good)});
  put(misses.text("  "));
}

template <class Study>
int finish(const Study& study, bool json) {
  if (json)
    print_json(study);
  else
    print_words(study);
  return exit_code(study.fitness);
}

}  // namespace

int run(const LotStudyOptions& options) {
  const StudySheet sheet = read_study(content_of(options.file), options.file);
  if (!sheet.calls.empty()) {
    if (!options.tolerance.empty())
      throw Error(ErrorKind::usage, "pass and fail have no tolerance", "--tolerance", "leave it out");
    std::vector<ReferenceCall> reference;
    if (!options.reference.empty()) reference = read_reference(content_of(options.reference), options.reference);
    return finish(agreement_study(sheet.calls, reference), options.json);
  }
  if (!options.reference.empty())
    throw Error(ErrorKind::usage, "values have no reference of pass and fail", "--reference", "leave it out");
  std::optional<double> tolerance;
  if (!options.tolerance.empty())
    tolerance = read_amount(options.tolerance, unit_kind_of(options.tolerance).value_or(Amount::number),
                            {0.0, 1e300, true}, "--tolerance");
  return finish(gauge_study(sheet.values, tolerance), options.json);
}

}  // namespace switchwright::cli
