// Against R (Debian package r-base-core): distributions, limits, tests and the analysis of variance.
#include <doctest/doctest.h>
#include <unistd.h>

#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <sstream>
#include <string>
#include <vector>

#include "skip.hpp"
#include "switchwright/lot/capability.hpp"
#include "switchwright/lot/operating_characteristic.hpp"
#include "switchwright/lot/proportion.hpp"
#include "switchwright/lot/study.hpp"

using namespace switchwright;

namespace {

bool r_is_missing() { return test::is_missing("Rscript", "r-base-core"); }

/// The numbers that a script prints.
std::vector<double> from_r(const std::string& script) {
  std::vector<double> numbers;
  const auto path = std::filesystem::temp_directory_path() / ("switchwright_lot_" + std::to_string(::getpid()) + ".R");
  std::ofstream(path)
      << "say <- function(x) cat(format(as.vector(x), digits=17, scientific=TRUE), sep='\\n', fill=FALSE); nl <- function() cat('\\n')\n"
      << script;
  if (std::FILE* pipe = ::popen(("Rscript --vanilla " + path.string() + " 2>&1").c_str(), "r")) {
    double value = 0.0;
    while (std::fscanf(pipe, "%lf", &value) == 1) numbers.push_back(value);
    ::pclose(pipe);
  }
  std::filesystem::remove(path);
  return numbers;
}

std::string r_vector(const std::vector<double>& values) {
  std::ostringstream text;
  text.precision(17);
  text << "c(";
  for (std::size_t i = 0; i < values.size(); ++i) text << (i ? "," : "") << values[i];
  return text.str() + ")";
}

void near(double got, double wanted, double relative) {
  INFO("got " << got << " wanted " << wanted);
  CHECK(std::abs(got - wanted) <= relative * std::abs(wanted) + 1e-300);
}

/// Values like a lot's, without a generator that R would have to share.
std::vector<double> made_up(std::size_t n, double bend) {
  std::vector<double> values;
  for (std::size_t i = 0; i < n; ++i) {
    const double x = std::sin(12.9898 * static_cast<double>(i + 1)) * 43758.5453;
    const double u = x - std::floor(x);
    values.push_back(100.0 + std::log((u + 1e-3) / (1.0 - u + 1e-3)) + bend * u * u);
  }
  return values;
}

}  // namespace

TEST_CASE("acceptance agrees with R's hypergeometric, binomial and Poisson distributions") {
  if (r_is_missing()) return;
  struct Row {
    long lot, n;
    int c;
    long defective;
  };
  const std::vector<Row> rows{{200, 32, 1, 7}, {500, 50, 3, 13},  {10000, 200, 7, 300}, {100000, 500, 10, 2500},
                              {20, 13, 2, 5},  {3200, 125, 0, 1}, {13, 13, 2, 3}};
  std::ostringstream script;
  for (const Row& r : rows)
    script << "say(phyper(" << r.c << "," << r.defective << "," << r.lot - r.defective << "," << r.n
           << ")); nl(); say(pbinom(" << r.c << "," << r.n << "," << r.defective << "/" << r.lot
           << ")); nl(); say(ppois(" << r.c << "," << r.n << "*" << r.defective << "/" << r.lot << ")); nl()\n";
  const auto wanted = from_r(script.str());
  REQUIRE(wanted.size() == 3 * rows.size());
  for (std::size_t i = 0; i < rows.size(); ++i) {
    const auto plan = StagedPlan::single(rows[i].n, rows[i].c);
    const double p = static_cast<double>(rows[i].defective) / static_cast<double>(rows[i].lot);
    near(acceptance_probability_of_lot(plan, rows[i].lot, rows[i].defective), wanted[3 * i], 1e-9);
    near(acceptance_probability(plan, OcModel::process, p), wanted[3 * i + 1], 1e-10);
    near(acceptance_probability(plan, OcModel::defects, p), wanted[3 * i + 2], 1e-10);
  }
}

TEST_CASE("double sampling of one lot agrees with R's hypergeometric distribution, stage by stage") {
  if (r_is_missing()) return;
  const auto wanted = from_r(
      "N <- 800; D <- 20; pa <- phyper(1, D, N-D, 50)\n"
      "for (k in 2:3) pa <- pa + dhyper(k, D, N-D, 50) * phyper(4-k, D-k, N-50-(D-k), 50)\n"
      "say(pa)");
  REQUIRE(wanted.size() == 1);
  near(acceptance_probability_of_lot({50, 1, 4, 50, 4}, 800, 20), wanted[0], 1e-10);
}

TEST_CASE("confidence limits of a share agree with R's binom.test and prop.test") {
  if (r_is_missing()) return;
  std::ostringstream script;
  const std::vector<std::pair<long, long>> rows{{0, 32}, {1, 32}, {4, 20}, {26, 200}, {32, 32}, {3, 1250}};
  for (const auto& [x, n] : rows)
    script << "say(binom.test(" << x << "," << n << ")$conf.int); nl(); say(suppressWarnings(prop.test(" << x << ","
           << n << ", correct=FALSE))$conf.int); nl()\n";
  const auto wanted = from_r(script.str());
  REQUIRE(wanted.size() == 4 * rows.size());
  for (std::size_t i = 0; i < rows.size(); ++i) {
    const Bounds exact = clopper_pearson(rows[i].first, rows[i].second), score = wilson(rows[i].first, rows[i].second);
    CHECK(std::abs(exact.low - wanted[4 * i]) < 1e-9);
    CHECK(std::abs(exact.high - wanted[4 * i + 1]) < 1e-9);
    CHECK(std::abs(score.low - wanted[4 * i + 2]) < 1e-9);
    CHECK(std::abs(score.high - wanted[4 * i + 3]) < 1e-9);
  }
}

TEST_CASE("Shapiro-Wilk agrees with R's shapiro.test, from 3 values to 2000, normal and not") {
  if (r_is_missing()) return;
  std::vector<std::vector<double>> sets{{1.0, 2.0, 4.0}, {49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1}};
  for (const std::size_t n : {4u, 5u, 6u, 11u, 12u, 50u, 200u, 2000u}) {
    sets.push_back(made_up(n, 0.0));
    sets.push_back(made_up(n, 8.0));
  }
  std::string script;
  for (const auto& set : sets)
    script += "t <- shapiro.test(" + r_vector(set) + "); say(t$statistic); nl(); say(t$p.value); nl()\n";
  const auto wanted = from_r(script);
  REQUIRE(wanted.size() == 2 * sets.size());
  for (std::size_t i = 0; i < sets.size(); ++i) {
    const auto got = shapiro_wilk(sets[i]);
    REQUIRE(got);
    INFO("n " << sets[i].size());
    near(got->w, wanted[2 * i], 1e-7);
    CHECK(std::abs(got->p - wanted[2 * i + 1]) <= 1e-5 * wanted[2 * i + 1] + 1e-12);
  }
}

TEST_CASE("mean limits, spread limits and tolerance factors agree with R") {
  if (r_is_missing()) return;
  const auto values = made_up(37, 0.0);
  const auto wanted = from_r(
      "x <- " + r_vector(values) +
      "; say(t.test(x)$conf.int); nl(); n <- length(x); say(sd(x)*sqrt((n-1)/qchisq(c(.975,.025),n-1))); nl()\n"
      "say(qt(.95, n-1, qnorm(.99)*sqrt(n))/sqrt(n)); nl(); say(qnorm(.995)*sqrt((n-1)*(1+1/n)/qchisq(.05,n-1))); nl()");
  REQUIRE(wanted.size() == 6);
  const Capability c = capability(values, {});
  near(c.mean_limits->low, wanted[0], 1e-10);
  near(c.mean_limits->high, wanted[1], 1e-10);
  near(c.sd_limits->low, wanted[2], 1e-9);
  near(c.sd_limits->high, wanted[3], 1e-9);
  near(one_sided_k(37, 0.99, 0.95), wanted[4], 1e-6);  // R's qt with a non-centrality is good to some 1e-8
  near(two_sided_k(37, 0.99, 0.95), wanted[5], 1e-10);
}

TEST_CASE("the analysis of variance agrees with R's aov, with and without a pooled interaction") {
  if (r_is_missing()) return;
  for (const double crossing : {0.0, 0.6}) {
    std::vector<StudyValue> values;
    std::vector<double> x, part, who;
    const auto noise = made_up(90, 0.0);
    for (int p = 0; p < 10; ++p)
      for (int o = 0; o < 3; ++o)
        for (int r = 0; r < 3; ++r) {
          x.push_back(14400 + 3.0 * std::sin(1.7 * p) + 0.8 * o + crossing * ((p * 7 + o * 5) % 4) +
                      0.2 * noise[x.size()]);
          part.push_back(p);
          who.push_back(o);
          values.push_back({"p" + std::to_string(p), "o" + std::to_string(o), x.back()});
        }
    const auto wanted = from_r(
        "x <- " + r_vector(x) + "; p <- factor(" + r_vector(part) + "); o <- factor(" + r_vector(who) +
        ")\na <- summary(aov(x ~ p*o))[[1]]; say(a[['Sum Sq']]); nl(); ms <- a[['Mean Sq']]; pi <- a[['Pr(>F)']][3]; say(pi); nl()\n"
        "if (pi > .25) { b <- summary(aov(x ~ p+o))[[1]]; e <- b[['Mean Sq']][3]; i <- e; vi <- 0; say(b[['F value']][1:2]); nl(); say(b[['Pr(>F)']][1:2]) "
        "} else { e <- ms[4]; i <- ms[3]; vi <- max(0,(i-e)/3); say(c(ms[1]/i, ms[2]/i)); nl(); say(c(pf(ms[1]/i,9,18,lower=F), pf(ms[2]/i,2,18,lower=F))) }\n"
        "nl(); vo <- max(0,(ms[2]-i)/30); vp <- max(0,(ms[1]-i)/9); g <- e+vo+vi; say(sqrt(c(e, vo+vi, g, vp, g+vp))); nl(); say(100*sqrt(g/(g+vp))); nl(); say(floor(sqrt(2*vp/g)))");
    REQUIRE(wanted.size() == 16);
    const GaugeStudy study = gauge_study(values);
    CHECK(study.interaction_pooled == (wanted[4] > 0.25));
    CHECK(study.interaction_pooled == (crossing == 0.0));
    near(study.rows[0].sum_of_squares, wanted[0], 1e-8);
    near(study.rows[1].sum_of_squares, wanted[1], 1e-8);
    if (!study.interaction_pooled) {
      near(study.rows[2].sum_of_squares, wanted[2], 1e-8);
      near(*study.rows[2].p, wanted[4], 1e-6);
      near(study.rows[3].sum_of_squares, wanted[3], 1e-8);
    }
    near(*study.rows[0].f, wanted[5], 1e-8);
    near(*study.rows[1].f, wanted[6], 1e-8);
    near(*study.rows[0].p, wanted[7], 1e-6);
    near(*study.rows[1].p, wanted[8], 1e-6);
    const SpreadShare* shares[] = {&study.repeatability, &study.reproducibility, &study.gauge, &study.part,
                                   &study.total};
    for (std::size_t i = 0; i < 5; ++i) near(shares[i]->sd, wanted[9 + i], 1e-8);
    near(study.gauge.of_total_pct, wanted[14], 1e-8);
    CHECK(study.distinct_categories == static_cast<long>(wanted[15]));
  }
}
