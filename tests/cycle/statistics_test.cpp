// The statistics against the outside: NIST StRD certified values, the GUM, and R.
#include "switchwright/cycle/statistics.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <cstdio>
#include <filesystem>
#include <fstream>
#include <random>
#include <sstream>
#include <string>

#include "skip.hpp"

using namespace switchwright;

namespace {

/// First digits of pi by a spigot (Rabinowitz and Wagon's algorithm), starting 3, 1, 4.
std::vector<double> digits_of_pi(std::size_t count) {
  const std::size_t length = count * 10 / 3 + 20;
  std::vector<int> remainders(length, 2);
  std::vector<double> digits;
  std::vector<int> held;
  while (digits.size() < count) {
    int carry = 0;
    for (std::size_t i = length; i-- > 0;) {
      const int denominator = static_cast<int>(2 * i + 1);
      const int x = remainders[i] * 10 + carry;
      remainders[i] = i == 0 ? x % 10 : x % denominator;
      carry = i == 0 ? x / 10 : x / denominator * static_cast<int>(i);
    }
    // carry is the next predigit; runs of 9 wait for a possible carry.
    if (carry == 10) {
      for (int& h : held) h = (h + 1) % 10;
      for (const int h : held) digits.push_back(h);
      held = {0};
    } else if (carry == 9) {
      held.push_back(9);
    } else {
      for (const int h : held) digits.push_back(h);
      held = {carry};
    }
  }
  digits.resize(count);
  return digits;
}

/// The PiDigits data set: its 957th value is 3 where pi has 8 (a slip in the published data: the certified
/// values belong to the data as published; the copy in golang-github-montanaflynn-stats-dev has it too).
std::vector<double> pi_digits_as_published() {
  std::vector<double> digits = digits_of_pi(5000);
  digits[956] = 3;
  return digits;
}

/// B + 0.2, then 500 pairs B + 0.1, B + 0.3: how NIST StRD constructs NumAcc2 to NumAcc4.
std::vector<double> num_acc(double b) {
  std::vector<double> values{b + 0.2};
  for (int i = 0; i < 500; ++i) values.insert(values.end(), {b + 0.1, b + 0.3});
  return values;
}

/// An array of the named Debian package's test file; empty when it is not installed.
std::vector<double> nist_array(const std::string& name) {
  std::ifstream file("/usr/share/gocode/src/github.com/montanaflynn/stats/nist_test.go");
  std::stringstream text;
  text << file.rdbuf();
  const std::string all = text.str();
  std::vector<double> values;
  auto at = all.find(name + " ");
  if (at == std::string::npos) return values;
  at = all.find('{', at);
  const auto end = all.find('}', at);
  std::string numbers = all.substr(at + 1, end - at - 1);
  for (char& c : numbers)
    if (c == ',') c = ' ';
  std::istringstream in(numbers);
  for (double value = 0; in >> value;) values.push_back(value);
  return values;
}

struct Certified {
  std::string name;
  std::vector<double> values;
  double mean, sd, lag1;
  double mean_tolerance, sd_tolerance, lag1_tolerance;  ///< relative
};

/// Runs R; empty when it is not installed.
std::vector<double> from_r(const std::string& script) {
  std::vector<double> numbers;
  const auto path =
      std::filesystem::temp_directory_path() / ("switchwright_cycle_" + std::to_string(::getpid()) + ".R");
  std::ofstream(path) << "options(digits=17)\n" << script;
  const std::string command = "Rscript --vanilla " + path.string() + " 2>/dev/null";
  if (std::FILE* pipe = ::popen(command.c_str(), "r")) {
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
  text << ")";
  return text.str();
}

}  // namespace

TEST_CASE("mean and sd and lag-1 autocorrelation agree with the certified values of NIST StRD") {
  // Certified values: NIST Statistical Reference Datasets, univariate summary statistics. Tolerances: what
  // storing the data in double precision leaves (NumAcc3 1e-9, NumAcc4 1e-7 for the sd).
  std::vector<Certified> sets{
      {"NumAcc1", {10000001, 10000003, 10000002}, 10000002, 1, -0.5, 1e-15, 1e-15, 1e-14},
      {"NumAcc2", num_acc(1), 1.2, 0.1, -0.999, 1e-14, 1e-13, 1e-13},
      {"NumAcc3", num_acc(1e6), 1000000.2, 0.1, -0.999, 1e-15, 1e-9, 1e-9},
      {"NumAcc4", num_acc(1e7), 10000000.2, 0.1, -0.999, 1e-15, 1e-7, 1e-7},
      {"PiDigits", pi_digits_as_published(), 4.53480000000000, 2.86733906028871, -0.00355099287237972, 1e-14, 1e-14,
       1e-10},
  };
  const std::vector<double> lew = nist_array("lew");
  if (lew.empty()) {
    test::skip("Lew, Lottery, Mavro, Michelso (golang-github-montanaflynn-stats-dev)");
  } else {
    sets.push_back({"Lew", lew, -177.435000000000, 277.332168044316, -0.307304800605679, 1e-14, 1e-14, 1e-13});
    CHECK(nist_array("pidigits") == pi_digits_as_published());
    sets.push_back({"Lottery", nist_array("lottery"), 518.958715596330, 291.699727470969, -0.120948622967393, 1e-14,
                    1e-14, 1e-13});
    sets.push_back(
        {"Mavro", nist_array("mavro"), 2.00185600000000, 0.000429123454003053, 0.937989183438248, 1e-14, 1e-12, 1e-12});
    sets.push_back({"Michelso", nist_array("michelson"), 299.852400000000, 0.0790105478190518, 0.535199668621283, 1e-14,
                    1e-12, 1e-12});
  }
  for (const Certified& set : sets) {
    CAPTURE(set.name);
    Moments moments;
    for (const double x : set.values) moments.add(x);
    REQUIRE(moments.lag1());
    CHECK(std::abs(*moments.mean() / set.mean - 1) <= set.mean_tolerance);
    CHECK(std::abs(*moments.sd() / set.sd - 1) <= set.sd_tolerance);
    CHECK(std::abs(*moments.lag1() / set.lag1 - 1) <= set.lag1_tolerance);
  }
}

TEST_CASE("statistics of too few values are absent") {
  Moments moments;
  CHECK_FALSE(moments.mean());
  CHECK_FALSE(moments.min());
  moments.add(3);
  CHECK(*moments.mean() == 3);
  CHECK_FALSE(moments.sd());
  CHECK_FALSE(moments.lag1());
  CHECK_FALSE(trend_of(std::vector<double>{1, 2, 3}));
  CHECK_FALSE(MedianKeeper().median());
}

TEST_CASE("effective degrees of freedom agree with the GUM") {
  // JCGM 100 G.4.1: 0.25 %, 0.57 %, 0.82 % with n = 10, 5, 15: u_c 1.03 %, nu_eff 19.0 (inputs from memory).
  const std::vector<Contribution> g41{{0.25, 9}, {0.57, 4}, {0.82, 14}};
  CHECK(combined(g41) == doctest::Approx(1.03).epsilon(0.001));
  CHECK(effective_degrees_of_freedom(g41) == doctest::Approx(19.0).epsilon(0.001));
  // JCGM 100 H.1, gauge block, first order: 25 (18), 9.7 (25.6), 2.887 (50), 16.6 (2) nm; published nu_eff 16
  // after rounding down, 16.752 unrounded.
  const std::vector<Contribution> h1{{25, 18}, {9.68194, 25.447}, {2.88679, 50}, {16.599, 2}};
  CHECK(combined(h1) == doctest::Approx(31.663767).epsilon(2e-5));
  CHECK(std::floor(effective_degrees_of_freedom(h1)) == 16);
  CHECK(effective_degrees_of_freedom(h1) == doctest::Approx(16.752148).epsilon(2e-4));
  // t99(16) = 2.92 (same clause), U = 93 nm.
  CHECK(t_factor(0.99, 16) == doctest::Approx(2.92).epsilon(0.001));
  CHECK(std::isinf(effective_degrees_of_freedom(std::vector<Contribution>{{1.0}})));
}

TEST_CASE("trend and median and Student factor agree with R") {
  std::mt19937 engine(5);
  std::normal_distribution<double> noise(0, 1);
  std::vector<std::vector<double>> series(4);
  for (int i = 0; i < 60; ++i) series[0].push_back(20 + 0.02 * i + noise(engine));
  for (int i = 0; i < 41; ++i) series[1].push_back(std::round(4 * noise(engine)) / 2);  // many ties
  for (int i = 0; i < 200; ++i) series[2].push_back(8 - 0.01 * i + 0.5 * noise(engine));
  series[3] = {49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1};  // NIST e-Handbook 6.3.2.2
  std::string script;
  for (const auto& x : series)
    script += "x <- " + r_vector(x) +
              "; r <- suppressWarnings(cor.test(seq_along(x), x, method='kendall', exact=FALSE, continuity=TRUE));"
              "d <- outer(x,x,'-'); i <- outer(seq_along(x),seq_along(x),'-'); s <- (d/i)[lower.tri(d)];"
              "a <- acf(x, lag.max=1, plot=FALSE)$acf[2];"
              "cat(r$estimate, r$statistic, r$p.value, median(s), median(x), sd(x), a, quantile(x,0.25),'\\n')\n";
  script += "cat(qt(0.975,c(1,4,10,19.5)),'\\n')\n";
  const std::vector<double> r = from_r(script);
  if (r.empty()) {
    test::skip("R is not installed (r-base-core)");
    return;
  }
  REQUIRE(r.size() == series.size() * 8 + 4);
  std::size_t at = 0;
  for (const auto& x : series) {
    const auto trend = trend_of(x);
    MedianKeeper median;
    Moments moments;
    for (const double value : x) {
      median.add(value);
      moments.add(value);
    }
    REQUIRE(trend);
    CHECK(trend->tau == doctest::Approx(r[at++]).epsilon(1e-9));
    CHECK(trend->z == doctest::Approx(r[at++]).epsilon(1e-9));
    CHECK(trend->p == doctest::Approx(r[at++]).epsilon(1e-9));
    CHECK(trend->slope == doctest::Approx(r[at++]).epsilon(1e-9));
    CHECK(*median.median() == doctest::Approx(r[at++]).epsilon(1e-12));
    CHECK(*moments.sd() == doctest::Approx(r[at++]).epsilon(1e-12));
    CHECK(*moments.lag1() == doctest::Approx(r[at++]).epsilon(1e-9));
    CHECK(quantile_of(x, 0.25) == doctest::Approx(r[at++]).epsilon(1e-12));
  }
  for (const double nu : {1.0, 4.0, 10.0, 19.5}) CHECK(t_factor(0.95, nu) == doctest::Approx(r[at++]).epsilon(1e-9));
}

TEST_CASE("the median stays within its stated bound beyond the exact values") {
  std::mt19937 engine(9);
  std::lognormal_distribution<double> spread(1, 0.5);
  std::vector<double> values;
  MedianKeeper keeper;
  for (int i = 0; i < 100000; ++i) {
    values.push_back(spread(engine));
    keeper.add(values.back());
  }
  const double exact = quantile_of(values, 0.5);
  CHECK(keeper.error_bound() > 0);
  CHECK(keeper.error_bound() < 0.02 * exact);
  CHECK(std::abs(*keeper.median() - exact) <= keeper.error_bound());
}

TEST_CASE("a long series is kept as means of equal blocks") {
  BlockSeries series;
  for (int i = 0; i < 4096; ++i) series.add(i);
  CHECK(series.means().size() < BlockSeries::most);
  const auto block = static_cast<double>(series.block());
  for (std::size_t i = 0; i < series.means().size(); ++i)
    CHECK(series.means()[i] == doctest::Approx(block * static_cast<double>(i) + (block - 1) / 2));
  CHECK(trend_of(series)->slope == doctest::Approx(1.0));
}

TEST_CASE("rounding in the last bits is no trend") {
  BlockSeries series;  // the same duty 24,998 times, as it comes out of ever larger times
  for (int i = 0; i < 24998; ++i) {
    const double start_s = 20.1 * i;
    series.add((start_s + 8.04 - start_s) / 20.1);
  }
  REQUIRE(trend_of(series));
  CHECK(trend_of(series)->s == 0.0);
  CHECK(trend_of(series)->p == 1.0);
}

TEST_CASE("a histogram of any range finds quantiles within a bin") {
  AdaptiveHistogram histogram(256);
  std::vector<double> values;
  std::mt19937 engine(11);
  std::normal_distribution<double> noise(230, 3);
  for (int i = 0; i < 20000; ++i) values.push_back(noise(engine));
  for (std::size_t i = 0; i < values.size(); ++i) {
    histogram.add(values[i]);
    if (i == 777) histogram.add(1e6);  // one stray value costs one bin
  }
  CHECK(histogram.total() == 20001);
  CHECK(histogram.bin_width() < 1.0);
  CHECK(std::abs(*histogram.quantile(0.5) - quantile_of(values, 0.5)) <= histogram.bin_width());
}
