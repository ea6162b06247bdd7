// What a plan is worth, against published points. "calc": computed independently (binomial, Poisson, hypergeometric in 64 bits).
#include "switchwright/lot/operating_characteristic.hpp"

#include <doctest/doctest.h>

#include <cmath>

#include "switchwright/core/error.hpp"
#include "switchwright/lot/design.hpp"
#include "switchwright/lot/simulation.hpp"

using namespace switchwright;

namespace {
double binomial(long n, int c, double p) {
  return acceptance_probability(StagedPlan::single(n, c), OcModel::process, p);
}
double poisson(long n, int c, double p) {
  return acceptance_probability(StagedPlan::single(n, c), OcModel::defects, p);
}
}  // namespace

TEST_CASE("operating characteristic of 52 and 3 as the e-Handbook prints it") {
  // NIST/SEMATECH e-Handbook 6.2.3.2; from p = .07 on from memory. The page prints .845 and .739 where the exact values round to .846 and
  // .738, hence 0.0011.
  const double published[] = {.998, .980, .930, .845, .739, .620, .502, .394, .300, .223, .162, .115};
  const double calc[] = {.998153, .979765, .929537, .845989, .738317, .619594,
                         .501847, .393763, .300280, .223187, .162066, .115198};
  for (int i = 0; i < 12; ++i) {
    CHECK(std::abs(binomial(52, 3, 0.01 * (i + 1)) - published[i]) < 0.0011);
    CHECK(std::abs(binomial(52, 3, 0.01 * (i + 1)) - calc[i]) < 1e-6);
  }
}

TEST_CASE("outgoing quality and total inspection of the e-Handbook's example") {
  const auto plan = StagedPlan::single(52, 3);
  CHECK(average_outgoing_quality(plan, OcModel::process, 0.03, 10000) ==
        doctest::Approx(0.02775).epsilon(0.0005));  // published, Pa rounded
  CHECK(std::abs(average_outgoing_quality(plan, OcModel::process, 0.03, 10000) - 0.027742) < 1e-6);  // calc
  const double ati[] = {70.37,   253.30,  752.96,  1584.10, 2655.22, 3836.28, 5007.62,
                        6082.85, 7012.82, 7779.73, 8387.77, 8854.01, 9201.30, 9453.47};
  for (int i = 0; i < 14; ++i)  // calc by the page's formula
    CHECK(std::abs(average_total_inspection(plan, OcModel::process, 0.01 * (i + 1), 10000) - ati[i]) < 0.006);
  const OutgoingLimit limit = average_outgoing_quality_limit(plan, OcModel::process, 10000);
  CHECK(std::abs(limit.outgoing - 0.037190) < 1e-6);  // calc; the page's .0372 from memory
  CHECK(std::abs(limit.p - 0.055911) < 1e-5);
}

TEST_CASE("published points of other plans") {
  CHECK(poisson(500, 3, 0.010) == doctest::Approx(0.26).epsilon(0.03));    // 7 CFR 42.140: 26 %
  CHECK(poisson(500, 3, 0.0010) == doctest::Approx(0.99).epsilon(0.01));   // same: about 99 %
  CHECK(poisson(168, 16, 0.065) == doctest::Approx(0.95).epsilon(0.005));  // 7 CFR 42.141: 95 %
  CHECK(std::abs(poisson(80, 1, 0.01) - 0.809) < 0.0005);                  // operations management text: np 0.8
  CHECK(std::abs(binomial(50, 2, 0.08) - 0.23) < 0.005);                   // a glossary: about 23 %
  CHECK(std::abs(acceptance_probability_of_lot(StagedPlan::single(50, 2), 2000, 160) - 0.22235) < 1e-5);  // calc
  CHECK(std::abs(binomial(125, 2, 0.10) - 0.000210835) < 1e-9);  // computed example, published
  CHECK(std::abs(binomial(65, 2, 0.012) - 0.9564398) < 1e-7);    // same
  CHECK(std::abs(binomial(200, 7, 0.064) - 0.054) < 0.0005);     // statistics text
  CHECK(std::abs(binomial(6, 1, 0.10) - 0.88) < 0.01);           // Codex curves, Ac from memory
  CHECK(std::abs(binomial(6, 1, 0.30) - 0.42) < 0.01);
  CHECK(std::abs(binomial(84, 9, 0.065) - 0.95420) < 1e-5);  // 21 CFR 158.3, calc
}

TEST_CASE(
    "quality accepted with a given chance, binomial and Poisson") {  // calc, percent; the Poisson row of 125 and 3 from memory
  struct Row {
    long n;
    int c;
    OcModel model;
    double p99, p95, p90, p75, p50, p25, p10, p05, p01;
  };
  for (const Row& r : {Row{125, 3, OcModel::defects, .6586, 1.093, 1.396, 2.028, 2.938, 4.088, 5.345, 6.203, 8.036},
                       Row{125, 3, OcModel::process, .6644, 1.1, 1.403, 2.032, 2.93, 4.053, 5.266, 6.086, 7.813},
                       Row{13, 0, OcModel::process, .07728, .3938, .8072, 2.189, 5.192, 10.11, 16.23, 20.58, 29.83},
                       Row{32, 1, OcModel::defects, .4642, 1.111, 1.662, 3.004, 5.245, 8.414, 12.16, 14.82, 20.74},
                       Row{200, 7, OcModel::process, 1.468, 2.006, 2.342, 2.986, 3.828, 4.81, 5.815, 6.473, 7.821}}) {
    const double chances[] = {.99, .95, .90, .75, .50, .25, .10, .05, .01};
    const double wanted[] = {r.p99, r.p95, r.p90, r.p75, r.p50, r.p25, r.p10, r.p05, r.p01};
    for (int i = 0; i < 9; ++i)
      CHECK(100.0 * *quality_accepted_with(StagedPlan::single(r.n, r.c), r.model, chances[i]) ==
            doctest::Approx(wanted[i]).epsilon(0.0006));
  }
}

TEST_CASE("producer's risk at the AQL") {  // calc
  CHECK(std::abs(1 - binomial(80, 5, .025) - .01521) < 1e-5);
  CHECK(std::abs(1 - binomial(50, 3, .025) - .03620) < 1e-5);
  CHECK(std::abs(1 - binomial(125, 1, .0065) - .19549) < 1e-5);
  CHECK(std::abs(1 - binomial(20, 0, .0065) - .12228) < 1e-5);
  CHECK(std::abs(1 - poisson(32, 1, .015) - .08420) < 1e-5);
}

TEST_CASE("type A counts the lot's own units") {  // calc
  CHECK(std::abs(acceptance_probability_of_lot(StagedPlan::single(50, 3), 500, 13) - .967849) < 1e-6);
  CHECK(std::abs(acceptance_probability_of_lot(StagedPlan::single(20, 0), 150, 3) - .648939) < 1e-6);
  CHECK(acceptance_probability_of_lot(StagedPlan::single(8, 0), 8, 1) == 0.0);  // every unit is tested
  CHECK(acceptance_probability_of_lot(StagedPlan::single(8, 0), 8, 0) == 1.0);
  CHECK(acceptance_probability_of_lot(StagedPlan::single(10, 2), 12, 5) == 0.0);  // at least 3 of 5 are in 10 of 12
}

TEST_CASE(
    "double sampling: the e-Handbook's example of the average sample number") {  // 6.2.4; printed figures from memory, others calc
  const StagedPlan plan{50, 2, 7, 100, 6};
  CHECK(std::abs(average_sample_number(plan, OcModel::process, 0.06) - 105.4829) < 1e-3);  // printed 106
  CHECK(std::abs(acceptance_probability(plan, OcModel::process, 0.06) - .460747) < 1e-6);
  CHECK(std::abs(binomial(50, 2, 0.06) - .416) < 0.0005);
}

TEST_CASE("double sampling: designs of the e-Handbook keep their points") {  // 6.2.4, calc
  CHECK(std::abs(acceptance_probability({108, 2, 5, 108, 4}, OcModel::process, .01) - .96188) < 1e-5);
  CHECK(std::abs(acceptance_probability({108, 2, 5, 108, 4}, OcModel::process, .05) - .09282) < 1e-5);
  CHECK(std::abs(acceptance_probability({77, 1, 5, 154, 4}, OcModel::process, .01) - .95030) < 1e-5);
  CHECK(std::abs(acceptance_probability({77, 1, 5, 154, 4}, OcModel::process, .05) - .10051) < 1e-5);
}

TEST_CASE("double plan L of AQL 1.5 uses its own first rejection number") {  // calc
  const StagedPlan plan{125, 3, 7, 125, 8};
  const double p[] = {.015, .02, .03, .04, .064}, pa[] = {.987824, .943971, .710767, .401176, .047698},
               asn[] = {139.586, 153.514, 179.429, 188.239, 158.430};
  for (int i = 0; i < 5; ++i) {
    CHECK(std::abs(acceptance_probability(plan, OcModel::process, p[i]) - pa[i]) < 1e-6);
    CHECK(std::abs(average_sample_number(plan, OcModel::process, p[i]) - asn[i]) < 1e-3);
  }
}

TEST_CASE("reduced plans accept between their two numbers") {  // MIL-STD-105E 4.10.1.4 (number from memory)
  const SamplingPlan reduced = sampling_plan(2000, InspectionLevel::II, 0.65, InspectionMode::reduced);  // 50, 1/3
  CHECK(acceptance_probability(StagedPlan::of(reduced), OcModel::process, 0.05) ==
        doctest::Approx(binomial(50, 2, 0.05)));
}

TEST_CASE("nothing leaves a lot of which every unit is tested") {
  const SamplingPlan all = sampling_plan(8, InspectionLevel::II, 1.0, InspectionMode::normal);
  CHECK(average_outgoing_quality_limit(StagedPlan::of(all), OcModel::process, 8).outgoing == 0.0);
  CHECK(average_outgoing_quality(StagedPlan::of(all), OcModel::process, 0.1, 8) == 0.0);
}

TEST_CASE("a plan that is found keeps both risks, and one unit less does not") {
  const WantedRisks wanted{0.01, 0.05, 0.05, 0.10};
  const auto plan = find_single_plan(wanted, OcModel::process);
  REQUIRE(plan);
  CHECK(binomial(plan->n1, plan->accept1, 0.01) >= 0.95);
  CHECK(binomial(plan->n1, plan->accept1, 0.05) <= 0.10);
  CHECK(binomial(plan->n1 - 1, plan->accept1, 0.05) > 0.10);
  // A smaller acceptance number would break the producer's risk with every sample that keeps the consumer's.
  CHECK(binomial(plan->n1, plan->accept1 - 1, 0.01) < 0.95);
  const auto of_lot = find_single_plan(wanted, OcModel::lot, 400);
  REQUIRE(of_lot);
  CHECK(of_lot->n1 < plan->n1);
  CHECK(acceptance_probability_of_lot(*of_lot, 400, 20) <= 0.10);
  CHECK(acceptance_probability_of_lot(*of_lot, 400, 4) >= 0.95);
}

TEST_CASE("zero acceptance: the smallest sample that finds") {
  // (1 - 0.05)^n <= 0.10: n = 45 (ln 0.1 / ln 0.95 = 44.9).
  CHECK(zero_acceptance_plan(0.05, 0.10, OcModel::process).n1 == 45);
  // One defective unit in a lot of 20 is found with 90 % only by testing 18 of them: 1 - 18/20 = 0.10.
  CHECK(zero_acceptance_plan(0.05, 0.10, OcModel::lot, 20).n1 == 18);
}

TEST_CASE("plans that cannot be are refused") {
  CHECK_THROWS_AS(find_single_plan({0.05, 0.05, 0.05, 0.10}, OcModel::process), Error);
  CHECK_THROWS_AS(find_single_plan({0.01, 0.0, 0.05, 0.10}, OcModel::process), Error);
  CHECK_THROWS_AS(acceptance_probability(StagedPlan::single(5, 0), OcModel::process, 1.5), Error);
  CHECK_THROWS_AS(acceptance_probability(StagedPlan::single(50, 0), OcModel::lot, 0.1, 20), Error);
  CHECK_THROWS_AS(acceptance_probability_of_lot(StagedPlan::single(5, 0), 20, 21), Error);
  CHECK_THROWS_AS(try_plan(StagedPlan::single(50, 0), 20, 0.1, 10, 1), Error);
}

TEST_CASE("made-up lots are accepted as often as the curve says") {
  // The binomial is exact here: units of the lot are independent. Four standard deviations of the share of 40 000 lots.
  for (const StagedPlan& plan : {StagedPlan::single(50, 1), StagedPlan{125, 3, 7, 125, 8}, StagedPlan::single(13, 0)})
    for (const double p : {0.005, 0.02, 0.04, 0.1}) {
      const double pa = acceptance_probability(plan, OcModel::process, p);
      const EmpiricalPoint tried = try_plan(plan, 800, p, 40000, 7);
      INFO(plan.n1 << " p " << p);
      CHECK(std::abs(tried.share() - pa) <= 4.0 * std::sqrt(pa * (1 - pa) / 40000) + 1e-9);
      CHECK(tried.inspected <= 40000LL * (plan.n1 + plan.n2));
    }
}
