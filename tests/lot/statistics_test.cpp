// Statistics of a lot's values against published examples. "calc": computed independently.
#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <limits>
#include <numeric>
#include <set>
#include <string>
#include <vector>

#include "switchwright/core/error.hpp"
#include "switchwright/lot/capability.hpp"
#include "switchwright/lot/draw.hpp"
#include "switchwright/lot/mixed.hpp"
#include "switchwright/lot/proportion.hpp"

using namespace switchwright;

namespace {
void near(double got, double wanted, double tolerance) { CHECK(std::abs(got - wanted) <= tolerance); }

// e-Handbook 6.3.2.2, flow rate.
const std::vector<double> flow{49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1};

// Two versions whose limits overlap between 12240 and 12438 ohm; invented.
const std::vector<VersionOhm> two_versions{{"240 V", 12240, 16560, true}, {"208 V", 9194, 12438, false}};
}  // namespace

TEST_CASE("capability indices of the e-Handbook's example") {  // 6.1.6, published; Cpm calc by the page's formula
  const Capability c = capability_of(50, 16, 2, {8, 20, 14});
  near(*c.cp, 1.0, 1e-12);
  near(*c.cpu, 0.6667, 5e-5);
  near(*c.cpl, 1.3333, 5e-5);
  near(*c.cpk, 0.6667, 5e-5);
  near(*c.cpm, 0.707107, 1e-6);
}

TEST_CASE("confidence limits of Cpk and Cp") {  // formula of 6.1.6, calc; those of Cp from memory, calc
  const Capability c50 = capability_of(50, 16, 2, {8, 20, {}}), c100 = capability_of(100, 16, 2, {8, 20, {}});
  near(c50.cpk_limits->low, 0.505551, 1e-6);
  near(c50.cpk_limits->high, 0.827782, 1e-6);
  near(c100.cpk_limits->low, 0.553128, 1e-6);
  near(c100.cpk_limits->high, 0.780206, 1e-6);
  near(c50.cp_limits->low, 0.802482, 1e-6);
  near(c50.cp_limits->high, 1.197126, 1e-6);
  near(c100.cp_limits->low, 0.860826, 1e-6);
  near(c100.cp_limits->high, 1.138943, 1e-6);
}

TEST_CASE("with one limit there is a Cpk and no Cp; without spread there is neither") {
  const Capability one = capability(flow, {{}, 60.0, {}});
  CHECK(one.cpk.has_value());
  CHECK_FALSE(one.cp.has_value());
  CHECK_FALSE(one.cpl.has_value());
  const std::vector<double> equal{5, 5, 5};
  const Capability flat = capability(equal, {4.0, 6.0, {}});
  CHECK_FALSE(flat.cp.has_value());
  CHECK_FALSE(flat.cpk.has_value());
  const Capability none = capability({}, {4.0, 6.0, {}});
  CHECK_FALSE(none.mean.has_value());
  const std::vector<double> single{5.0};
  CHECK_FALSE(capability(single, {4.0, 6.0, {}}).sd.has_value());
}

TEST_CASE("open readings and limits the wrong way round are refused") {
  const std::vector<double> open{1.0, std::numeric_limits<double>::infinity()};
  CHECK_THROWS_AS(capability(open, {}), Error);
  CHECK_THROWS_AS(capability(flow, {60.0, 40.0, {}}), Error);
  CHECK_THROWS_AS(capability_of(1, 1.0, 1.0, {}), Error);
}

TEST_CASE("spread of values that hardly differ is exact") {  // NIST StRD NumAcc3 and NumAcc4, certified: sd 0.1
  for (const double base : {1e6, 1e7}) {
    std::vector<double> values{base + 0.2};
    for (int i = 0; i < 500; ++i) {
      values.push_back(base + 0.1);
      values.push_back(base + 0.3);
    }
    near(*capability(values, {}).sd, 0.1, base == 1e6 ? 1e-10 : 1e-8);
    near(*capability(values, {}).mean, base + 0.2, 1e-8);
  }
}

TEST_CASE("individuals chart of the e-Handbook's flow rate") {  // 6.3.2.2, published; range limit calc
  const auto chart = individuals_chart(flow);
  REQUIRE(chart);
  near(chart->centre, 50.81, 1e-9);
  near(chart->mean_range, 1.8778, 5e-5);
  near(chart->upper, 55.8041, 1e-4);
  near(chart->lower, 45.8159, 1e-4);
  near(chart->range_upper, 6.1347, 1e-4);
  CHECK(chart->outside.empty());
  CHECK(chart->range_outside.empty());
}

TEST_CASE("a value beyond the chart's limits is named") {
  std::vector<double> values = flow;
  values.insert(values.end(), flow.begin(), flow.end());
  values[4] = 75.0;
  const auto chart = individuals_chart(values);
  REQUIRE(chart);
  CHECK(std::find(chart->outside.begin(), chart->outside.end(), 4u) != chart->outside.end());
}

TEST_CASE(
    "Clopper-Pearson and Wilson limits of the e-Handbook") {  // 7.2.4 and 7.2.4.1, published; the page later slips to 0.400
  const Bounds exact = clopper_pearson(4, 20, 0.90);
  near(exact.low, 0.071354, 1e-6);
  near(exact.high, 0.401029, 1.1e-6);
  near(wilson(26, 200, 0.90).low, 0.09577, 1e-5);  // one-sided 95 %
}

TEST_CASE("no defective unit among n is no proof of none") {
  CHECK(clopper_pearson(0, 20).low == 0.0);
  near(clopper_pearson(0, 20).high, 1.0 - std::pow(0.025, 1.0 / 20.0), 1e-9);  // closed form
  near(largest_share(0, 59), 1.0 - std::pow(0.05, 1.0 / 59.0), 1e-9);
  CHECK(clopper_pearson(20, 20).high == 1.0);
  CHECK_THROWS_AS(clopper_pearson(3, 2), Error);
  CHECK_THROWS_AS(wilson(0, 0), Error);
}

TEST_CASE("tolerance factors of the e-Handbook") {  // 7.2.6.3, published
  near(two_sided_k(43, 0.90, 0.99), 2.217, 5e-4);
  near(one_sided_k(43, 0.90, 0.99), 1.8740, 5e-5);
  near(one_sided_k(6, 0.90, 0.99), 4.4111, 5e-5);
}

TEST_CASE("outliers of Rosner's example are named, the most extreme first") {
  // Rosner 1983, as in e-Handbook 1.3.5.17.3; from memory: three outliers, the three largest.
  const std::vector<double> values{-0.25, 0.68, 0.94, 1.15, 1.20, 1.26, 1.26, 1.34, 1.38, 1.43, 1.49, 1.49, 1.55, 1.56,
                                   1.58,  1.65, 1.69, 1.70, 1.76, 1.77, 1.81, 1.91, 1.94, 1.96, 1.99, 2.06, 2.09, 2.10,
                                   2.14,  2.15, 2.23, 2.24, 2.26, 2.35, 2.37, 2.40, 2.47, 2.54, 2.62, 2.64, 2.90, 2.92,
                                   2.92,  2.93, 3.21, 3.26, 3.30, 3.59, 3.68, 4.30, 4.64, 5.34, 5.42, 6.01};
  REQUIRE(values.size() == 54);
  CHECK(outliers(values) == std::vector<std::size_t>{53, 52, 51});
  CHECK(outliers(flow).empty());
}

TEST_CASE("a histogram counts every value once") {
  std::vector<double> values;
  for (int i = 0; i < 137; ++i) values.push_back(std::sin(i * 0.7) * 3.0 + 10.0);
  const auto bars = histogram_of(values);
  CHECK(bars.size() >= 5);
  CHECK(bars.size() <= 25);
  std::size_t count = 0;
  for (std::size_t i = 0; i < bars.size(); ++i) {
    count += bars[i].count;
    const bool last = i + 1 == bars.size();
    CHECK(bars[i].count == static_cast<std::size_t>(std::count_if(values.begin(), values.end(), [&](double x) {
            return x >= bars[i].from && (x < bars[i].to || (last && x <= bars[i].to));
          })));
  }
  CHECK(count == values.size());
}

TEST_CASE("a meter whose own uncertainty fills the spread is said to") {
  const Capability c = capability_of(50, 0.1, 0.05, {});
  CHECK(meter_share(c, 0.04)->meter_dominates);
  near(*meter_share(c, 0.04)->part_sd, 0.03, 1e-12);
  CHECK_FALSE(meter_share(c, 0.06)->part_sd.has_value());  // the meter leaves nothing for the parts
  CHECK_FALSE(meter_share(c, 0.005)->meter_dominates);
}

TEST_CASE("a version among others is named at once") {
  const VersionOf wrong = version_of(10816, 40, two_versions);
  CHECK(wrong.answer == VersionAnswer::other);
  CHECK(wrong.id == "208 V");
  CHECK(wrong.neither < 0.05);
  CHECK(version_of(14400, 40, two_versions).answer == VersionAnswer::ordered);
}

TEST_CASE("what lies within the limits of both versions is never called the ordered one") {
  for (const double ohm : {12250.0, 12300.0, 12430.0}) {
    const VersionOf between = version_of(ohm, 10, two_versions);
    INFO(between.words);
    CHECK(between.answer == VersionAnswer::ambiguous);
    CHECK(between.id.empty());
  }
}

TEST_CASE("what is of no version is called neither") {
  for (const double ohm : {47.0, 3000.0, 7000.0, 18000.0, 33000.0, 1e6}) {
    const VersionOf odd = version_of(ohm, 0.005 * ohm, two_versions);
    INFO(ohm << " " << odd.words);
    CHECK(odd.answer == VersionAnswer::neither);
    CHECK(odd.neither > 0.95);
  }
}

TEST_CASE("a meter too coarse for the versions does not name one") {
  CHECK(version_of(12600, 2000, two_versions).answer == VersionAnswer::ambiguous);
}

TEST_CASE("the probabilities of all versions and of neither add up to one") {
  for (const double ohm : {5000.0, 9200.0, 12400.0, 14400.0, 16600.0}) {
    const VersionOf v = version_of(ohm, 60, two_versions);
    double sum = v.neither;
    for (const VersionChance& chance : v.versions) sum += chance.probability;
    near(sum, 1.0, 1e-12);
  }
}

TEST_CASE("versions that cannot be told from ohms are refused") {
  CHECK_THROWS_AS(version_of(0.0, 1, two_versions), Error);
  CHECK_THROWS_AS(version_of(std::numeric_limits<double>::infinity(), 1, two_versions), Error);
  const std::vector<VersionOhm> none{{"208 V", 9194, 12438, false}}, empty{{"x", 5, 5, true}};
  CHECK_THROWS_AS(version_of(10000, 1, none), Error);
  CHECK_THROWS_AS(version_of(10000, 1, empty), Error);
}

TEST_CASE("drawn units are different, in the lot, and the same for the same seed") {
  for (const DrawingMethod method : {DrawingMethod::random, DrawingMethod::systematic})
    for (const long n : {1L, 32L, 199L, 200L}) {
      const auto units = draw_units(200, n, method, 42);
      CHECK(std::set<long>(units.begin(), units.end()).size() == static_cast<std::size_t>(n));
      CHECK(*std::min_element(units.begin(), units.end()) >= 1);
      CHECK(*std::max_element(units.begin(), units.end()) <= 200);
      CHECK(units == draw_units(200, n, method, 42));
      if (n < 199) CHECK(units != draw_units(200, n, method, 43));
    }
  CHECK_THROWS_AS(draw_units(5, 6, DrawingMethod::random, 1), Error);
}

TEST_CASE("every unit is drawn equally often") {
  // 20 000 drawings of 3 out of 12: each unit 5000 times, standard deviation 61; five of them.
  for (const DrawingMethod method : {DrawingMethod::random, DrawingMethod::systematic}) {
    std::vector<int> count(13, 0);
    for (std::uint64_t seed = 0; seed < 20000; ++seed)
      for (const long unit : draw_units(12, 3, method, seed)) ++count[static_cast<std::size_t>(unit)];
    for (std::size_t unit = 1; unit <= 12; ++unit) CHECK(std::abs(count[unit] - 5000) < 310);
  }
}

TEST_CASE("systematic drawing leaves even gaps") {
  const auto units = draw_units(200, 32, DrawingMethod::systematic, 5);
  for (std::size_t i = 1; i < units.size(); ++i) {
    CHECK(units[i] - units[i - 1] >= 6);
    CHECK(units[i] - units[i - 1] <= 7);
  }
}

TEST_CASE("a replacement is a unit that was not taken; nothing left is none") {
  std::vector<long> taken = draw_units(12, 10, DrawingMethod::random, 3);
  for (int i = 0; i < 2; ++i) {
    const long unit = draw_replacement(12, taken, 3);
    CHECK(unit >= 1);
    CHECK(std::find(taken.begin(), taken.end(), unit) == taken.end());
    taken.push_back(unit);
  }
  CHECK(draw_replacement(12, taken, 3) == 0);
}

TEST_CASE("the units are those that the described algorithm gives, worked out by another program") {
  struct Row {
    long lot, sample;
    DrawingMethod method;
    std::uint64_t seed;
  };
  for (const Row& row :
       {Row{200, 32, DrawingMethod::random, 1}, Row{3200, 125, DrawingMethod::random, 18446744073709551615ULL},
        Row{7, 7, DrawingMethod::random, 99}, Row{200, 32, DrawingMethod::systematic, 1},
        Row{1001, 80, DrawingMethod::systematic, 20261126}}) {
    const std::string command = std::string{PYTHON} + " " SOURCE_DIR "/tests/lot/draw_reference.py " +
                                std::to_string(row.lot) + " " + std::to_string(row.sample) + " " +
                                to_string(row.method) + " " + std::to_string(row.seed);
    std::vector<long> wanted;
    std::FILE* pipe = ::popen(command.c_str(), "r");
    REQUIRE(pipe != nullptr);
    for (long unit = 0; std::fscanf(pipe, "%ld", &unit) == 1;) wanted.push_back(unit);
    ::pclose(pipe);
    CHECK(draw_units(row.lot, row.sample, row.method, row.seed) == wanted);
  }
}
