// Pass and fail: do the operators agree with themselves, with each other and with the reference?
#include <fmt/format.h>

#include <algorithm>
#include <map>

#include "lot/crossed.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/lot/study.hpp"

namespace switchwright {

namespace {

// Bounds of kappa: above 0.75 good, below 0.40 poor (common practice).
constexpr double good_kappa = 0.75, poor_kappa = 0.40;

using Table = Crossed<char>;

/// Cohen's kappa over pairs of calls.
class Pairs {
 public:
  void add(bool a, bool b) { ++count_[a][b]; }
  Agreement agreement(std::string who) const {
    Agreement result;
    result.who = std::move(who);
    result.agreed = count_[0][0] + count_[1][1];
    result.of = result.agreed + count_[0][1] + count_[1][0];
    result.limits = clopper_pearson(result.agreed, result.of);
    const auto n = static_cast<double>(result.of);
    const auto share = [n](long count) { return static_cast<double>(count) / n; };
    const double by_chance = share(count_[1][0] + count_[1][1]) * share(count_[0][1] + count_[1][1]) +
                             share(count_[0][0] + count_[0][1]) * share(count_[0][0] + count_[1][0]);
    if (by_chance < 1.0) result.kappa = (share(result.agreed) - by_chance) / (1.0 - by_chance);
    return result;
  }

 private:
  long count_[2][2] = {{0, 0}, {0, 0}};
};

std::optional<double> fleiss(const Table& table) {
  const auto raters = static_cast<double>(table.operators.size() * table.repeats),
             parts = static_cast<double>(table.parts.size());
  double agreed = 0.0, all_passes = 0.0;
  for (std::size_t i = 0; i < table.parts.size(); ++i) {
    double pass = 0.0;
    for (std::size_t j = 0; j < table.operators.size(); ++j)
      for (const char call : table.cell(i, j)) pass += call;
    const double fail = raters - pass;
    agreed += (pass * (pass - 1.0) + fail * (fail - 1.0)) / (raters * (raters - 1.0)) / parts;
    all_passes += pass;
  }
  const double passes = all_passes / (raters * parts);
  const double by_chance = passes * passes + (1.0 - passes) * (1.0 - passes);
  if (by_chance >= 1.0) return std::nullopt;
  return (agreed - by_chance) / (1.0 - by_chance);
}

AgainstReference against(const Table& table, std::size_t who, const std::map<std::string, bool>& truth) {
  AgainstReference result;
  Pairs pairs;
  for (std::size_t i = 0; i < table.parts.size(); ++i) {
    const bool good = truth.at(table.parts[i]);
    for (const char call : table.cell(i, who)) {
      pairs.add(call != 0, good);
      ++(good ? result.good : result.bad);
      result.false_passes += !good && call;
      result.false_fails += good && !call;
    }
  }
  result.agreement = pairs.agreement(table.operators[who]);
  if (result.bad > 0) result.largest_false_pass = largest_share(result.false_passes, result.bad);
  return result;
}

std::map<std::string, bool> truth_of(const Table& table, std::span<const ReferenceCall> reference) {
  std::map<std::string, bool> truth;
  for (const ReferenceCall& call : reference)
    if (const auto [at, fresh] = truth.emplace(call.part, call.pass); !fresh && at->second != call.pass)
      throw Error(ErrorKind::usage, "the reference calls part " + call.part + " both pass and fail");
  std::vector<std::string> missing;
  for (const std::string& part : table.parts)
    if (!truth.contains(part)) missing.push_back(part);
  if (!missing.empty())
    throw Error(ErrorKind::usage,
                "the reference does not say what " + joined_with_and(missing) + (missing.size() == 1 ? " is" : " are"));
  return truth;
}

void judge(AgreementStudy& study) {
  using Fitness = GaugeStudy::Fitness;
  double worst = study.fleiss_kappa.value_or(1.0);
  for (const Agreement& pair : study.between) worst = std::min(worst, pair.kappa.value_or(worst));
  long false_passes = 0, bad = 0;
  bool told = study.fleiss_kappa.has_value();
  for (const AgainstReference& one : study.against) {
    worst = std::min(worst, one.agreement.kappa.value_or(worst));
    false_passes += one.false_passes;
    bad += one.bad;
  }
  if (!told) {
    study.fitness = Fitness::unfit;
    study.words = "All calls are the same: take good and bad parts, about half of each, or nothing is learned.";
    return;
  }
  study.fitness = worst < poor_kappa ? Fitness::unfit : worst < good_kappa ? Fitness::marginal : Fitness::fit;
  study.words = fmt::format("The lowest kappa is {:.2f} (common practice: above {:.2f} is good, below {:.2f} poor).",
                            worst, good_kappa, poor_kappa);
  if (study.against.empty()) {
    if (study.fitness == Fitness::fit) study.fitness = Fitness::marginal;
    study.words += " Without a reference they may all be wrong alike.";
  } else if (bad == 0) {
    if (study.fitness == Fitness::fit) study.fitness = Fitness::marginal;
    study.words +=
        " The reference holds no bad part, so that no bad part could be passed: nothing is known about false passes.";
  } else if (false_passes > 0) {
    if (study.fitness == Fitness::fit) study.fitness = Fitness::marginal;
    study.words +=
        fmt::format(" Bad parts were passed {} of {} times: that is the worst a bench can do.", false_passes, bad);
  }
}

}  // namespace

AgreementStudy agreement_study(std::span<const StudyCall> calls, std::span<const ReferenceCall> reference) {
  Table table;
  for (const StudyCall& call : calls) table.add(call.part, call.operator_name, call.pass ? 1 : 0);
  table.check(2, 1, 1);
  if (table.operators.size() * table.repeats < 2)
    throw Error(ErrorKind::usage,
                "one call of each part agrees with nothing: take several operators, or let one repeat");

  AgreementStudy study;
  study.parts = table.parts.size();
  study.operators = table.operators.size();
  study.repeats = table.repeats;
  for (std::size_t j = 0; j < study.operators && study.repeats > 1; ++j) {
    Agreement within;
    within.who = table.operators[j];
    within.of = static_cast<long>(study.parts);
    for (std::size_t i = 0; i < study.parts; ++i) {
      const auto& cell = table.cell(i, j);
      within.agreed += std::all_of(cell.begin(), cell.end(), [&](char call) { return call == cell.front(); });
    }
    within.limits = clopper_pearson(within.agreed, within.of);
    study.within.push_back(std::move(within));
  }
  for (std::size_t a = 0; a < study.operators; ++a)
    for (std::size_t b = a + 1; b < study.operators; ++b) {
      Pairs pairs;
      for (std::size_t i = 0; i < study.parts; ++i)
        for (std::size_t k = 0; k < study.repeats; ++k) pairs.add(table.cell(i, a)[k] != 0, table.cell(i, b)[k] != 0);
      study.between.push_back(pairs.agreement(table.operators[a] + " and " + table.operators[b]));
    }
  study.fleiss_kappa = fleiss(table);
  if (!reference.empty()) {
    const auto truth = truth_of(table, reference);
    for (std::size_t j = 0; j < study.operators; ++j) study.against.push_back(against(table, j, truth));
  }
  judge(study);
  return study;
}

}  // namespace switchwright
