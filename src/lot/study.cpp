// Repeatability and reproducibility by analysis of variance: two crossed factors (part, operator), both random.
#include "switchwright/lot/study.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <boost/math/distributions/fisher_f.hpp>
#include <cmath>

#include "lot/crossed.hpp"
#include "switchwright/core/error.hpp"

namespace switchwright {

namespace {

constexpr double pooled_above = 0.25;

VarianceRow row(const char* source, std::size_t df, double squares) {
  return {source, static_cast<long>(df), squares, df > 0 ? squares / static_cast<double>(df) : 0.0, {}, {}};
}

void test_against(VarianceRow& row, const VarianceRow& error) {
  if (!(error.mean_square > 0.0)) return;
  row.f = row.mean_square / error.mean_square;
  const boost::math::fisher_f f{static_cast<double>(row.df), static_cast<double>(error.df)};
  row.p = boost::math::cdf(boost::math::complement(f, *row.f));
}

struct Squares {
  double part = 0.0, operators = 0.0, interaction = 0.0, repeat = 0.0, total = 0.0;
};

Squares squares_of(const Crossed<double>& table) {
  const auto p = static_cast<double>(table.parts.size()), o = static_cast<double>(table.operators.size()),
             r = static_cast<double>(table.repeats);
  // About one of the values, so that a large common value costs no digits.
  const double origin = table.cell(0, 0).front();
  std::vector<double> part(table.parts.size()), who(table.operators.size());
  std::vector<std::vector<double>> cell(table.parts.size(), std::vector<double>(table.operators.size()));
  double all = 0.0;
  for (std::size_t i = 0; i < part.size(); ++i)
    for (std::size_t j = 0; j < who.size(); ++j) {
      for (const double x : table.cell(i, j)) cell[i][j] += (x - origin) / r;
      part[i] += cell[i][j] / o;
      who[j] += cell[i][j] / p;
      all += cell[i][j] / (p * o);
    }
  Squares s;
  const auto square = [](double x) { return x * x; };
  for (std::size_t i = 0; i < part.size(); ++i) s.part += o * r * square(part[i] - all);
  for (std::size_t j = 0; j < who.size(); ++j) s.operators += p * r * square(who[j] - all);
  for (std::size_t i = 0; i < part.size(); ++i)
    for (std::size_t j = 0; j < who.size(); ++j) {
      s.interaction += r * square(cell[i][j] - part[i] - who[j] + all);
      for (const double x : table.cell(i, j)) {
        s.repeat += square(x - origin - cell[i][j]);
        s.total += square(x - origin - all);
      }
    }
  return s;
}

SpreadShare spread(double variance, double total, std::optional<double> tolerance) {
  SpreadShare share;
  share.sd = std::sqrt(variance);
  if (total > 0.0) {
    share.of_total_pct = 100.0 * std::sqrt(variance / total);
    share.of_variance_pct = 100.0 * variance / total;
  }
  if (tolerance) share.of_tolerance_pct = 100.0 * 6.0 * share.sd / *tolerance;
  return share;
}

void judge(GaugeStudy& study) {
  using Fitness = GaugeStudy::Fitness;
  if (!(study.total.sd > 0.0)) {
    study.fitness = Fitness::unfit;
    study.words =
        "All values are equal: the meter does not resolve any difference, neither of parts nor of its own. Nothing is known about the bench.";
    return;
  }
  const double gauge = study.gauge.of_total_pct, of_tolerance = study.gauge.of_tolerance_pct.value_or(0.0);
  const double worst = std::max(gauge, of_tolerance);
  // No spread of the gauge means that its steps are too coarse to show it; that is no proof of a good one.
  const bool blind = !(study.gauge.sd > 0.0);
  const bool enough = study.distinct_categories.value_or(0) >= 5;
  study.fitness = blind           ? Fitness::marginal
                  : worst <= 10.0 ? (enough ? Fitness::fit : Fitness::marginal)
                  : worst <= 30.0 ? Fitness::marginal
                                  : Fitness::unfit;
  const std::string figure = fmt::format(
      "Repeatability and reproducibility take {:.1f} % of the total spread{}", gauge,
      study.gauge.of_tolerance_pct ? fmt::format(" and {:.1f} % of the tolerance", of_tolerance) : std::string{});
  if (blind)
    study.words =
        "The repeats do not differ at all: the meter's steps are too coarse to show its own spread, which is therefore not known.";
  else if (study.fitness == Fitness::fit)
    study.words = figure + ": the bench tells these parts apart.";
  else if (study.fitness == Fitness::marginal)
    study.words =
        figure + ": usable where little depends on it (common practice: up to 10 % is good, up to 30 % marginal).";
  else
    study.words = figure + ": the bench cannot judge these parts (common practice: above 30 %).";
  if (!enough && !blind)
    study.words += fmt::format(" It tells {} of parts apart; five are wanted.",
                               study.distinct_categories.value_or(0) == 1
                                   ? "one category"
                                   : fmt::format("{} categories", study.distinct_categories.value_or(0)));
  if (study.repeatability.sd < study.reproducibility.sd)
    study.words += " Most of it lies between the operators: look at how they work.";
  else if (study.fitness != Fitness::fit && !blind)
    study.words += " Most of it shows when one operator repeats: look at meter, leads and clips.";
}

}  // namespace

GaugeStudy gauge_study(std::span<const StudyValue> values, std::optional<double> tolerance) {
  if (tolerance && !(*tolerance > 0.0)) throw Error(ErrorKind::usage, "the tolerance must be above 0");
  Crossed<double> table;
  for (const StudyValue& value : values) {
    if (!std::isfinite(value.value))
      throw Error(ErrorKind::usage, "a value of part " + value.part + " is not a finite number");
    table.add(value.part, value.operator_name, value.value);
  }
  table.check(2, 2, 2);
  const std::size_t p = table.parts.size(), o = table.operators.size(), r = table.repeats;
  const Squares s = squares_of(table);

  GaugeStudy study;
  study.parts = p;
  study.operators = o;
  study.repeats = r;
  VarianceRow part = row("part", p - 1, s.part), who = row("operator", o - 1, s.operators);
  VarianceRow both = row("part x operator", (p - 1) * (o - 1), s.interaction);
  VarianceRow error = row("repeatability", p * o * (r - 1), s.repeat);
  test_against(both, error);
  study.interaction_pooled = both.p && *both.p > pooled_above;
  if (study.interaction_pooled) {
    error = row("repeatability", static_cast<std::size_t>(error.df + both.df), s.repeat + s.interaction);
    test_against(part, error);
    test_against(who, error);
  } else {
    test_against(part, both);
    test_against(who, both);
  }
  study.rows = {part, who};
  if (!study.interaction_pooled) study.rows.push_back(both);
  study.rows.push_back(error);
  study.rows.push_back(row("total", p * o * r - 1, s.total));

  const double between = study.interaction_pooled ? error.mean_square : both.mean_square;
  const auto positive = [](double x) { return std::max(0.0, x); };
  const double v_repeat = error.mean_square;
  const double v_both =
      study.interaction_pooled ? 0.0 : positive((both.mean_square - error.mean_square) / static_cast<double>(r));
  const double v_who = positive((who.mean_square - between) / static_cast<double>(p * r));
  const double v_part = positive((part.mean_square - between) / static_cast<double>(o * r));
  const double v_gauge = v_repeat + v_who + v_both, v_total = v_gauge + v_part;
  study.repeatability = spread(v_repeat, v_total, tolerance);
  study.reproducibility = spread(v_who + v_both, v_total, tolerance);
  study.interaction = spread(v_both, v_total, tolerance);
  study.gauge = spread(v_gauge, v_total, tolerance);
  study.part = spread(v_part, v_total, tolerance);
  study.total = spread(v_total, v_total, tolerance);
  if (v_gauge > 0.0) study.distinct_categories = static_cast<long>(std::floor(std::sqrt(2.0 * v_part / v_gauge)));
  judge(study);
  return study;
}

}  // namespace switchwright
