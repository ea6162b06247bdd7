// Studies of the bench: what must be refused, and what must not be called fit. Figures against R stand in r_reference_test.cpp.
#include "switchwright/lot/study.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <string>

#include "switchwright/core/error.hpp"

using namespace switchwright;
using Fitness = GaugeStudy::Fitness;

namespace {

/// "part:operator:P..." lists of calls.
std::vector<StudyCall> calls(const std::vector<std::pair<std::string, std::string>>& by_operator, int parts) {
  std::vector<StudyCall> result;
  for (const auto& [who, marks] : by_operator)
    for (std::size_t i = 0; i < marks.size(); ++i)
      result.push_back({std::to_string(i % static_cast<std::size_t>(parts)), who, marks[i] == 'P'});
  return result;
}
std::vector<ReferenceCall> reference(const std::string& marks) {
  std::vector<ReferenceCall> result;
  for (std::size_t i = 0; i < marks.size(); ++i) result.push_back({std::to_string(i), marks[i] == 'P'});
  return result;
}

std::vector<StudyValue> values(double part_step, double operator_step, double noise) {
  std::vector<StudyValue> result;
  int k = 0;
  for (int p = 0; p < 10; ++p)
    for (int o = 0; o < 3; ++o)
      for (int r = 0; r < 3; ++r)
        result.push_back({"p" + std::to_string(p), "o" + std::to_string(o),
                          100 + part_step * p + operator_step * o + noise * std::sin(12.9898 * ++k)});
  return result;
}

}  // namespace

TEST_CASE("a bench that tells parts apart is fit, one that does not is unfit") {
  CHECK(gauge_study(values(1.0, 0.0, 0.05)).fitness == Fitness::fit);
  CHECK(gauge_study(values(0.0, 0.0, 1.0)).fitness == Fitness::unfit);
  CHECK(gauge_study(values(0.1, 1.0, 0.05)).fitness == Fitness::unfit);  // the operators differ
}

TEST_CASE("parts told apart well do not make the bench fit for a narrow tolerance") {
  CHECK(gauge_study(values(1.0, 0.0, 0.05), 0.4).fitness != Fitness::fit);
  CHECK(gauge_study(values(1.0, 0.0, 0.05), 40.0).fitness == Fitness::fit);
}

TEST_CASE("a meter too coarse to show its own spread is not called fit") {
  const GaugeStudy steps = gauge_study(values(1.0, 0.0, 0.0));
  CHECK(steps.fitness == Fitness::marginal);
  CHECK_FALSE(steps.distinct_categories.has_value());
  CHECK(gauge_study(values(0.0, 0.0, 0.0)).fitness == Fitness::unfit);
}

TEST_CASE("a study that is not balanced or too small is refused with what is missing") {
  auto v = values(1.0, 0.0, 0.05);
  v.pop_back();
  CHECK_THROWS_WITH_AS(gauge_study(v), doctest::Contains("p9"), Error);
  CHECK_THROWS_AS(gauge_study(std::vector<StudyValue>{{"a", "x", 1}, {"a", "x", 2}}), Error);
  CHECK_THROWS_AS(gauge_study({}), Error);
}

TEST_CASE("kappa of a two by two table") {
  // 50 parts, both pass 20, both fail 15, only A 5, only B 10: po 0.7, pe 0.5 * 0.6 + 0.5 * 0.4 = 0.5, kappa 0.4 (worked by hand from Cohen's formula).
  const std::string a = std::string(20, 'P') + std::string(5, 'P') + std::string(10, 'F') + std::string(15, 'F');
  const std::string b = std::string(20, 'P') + std::string(5, 'F') + std::string(10, 'P') + std::string(15, 'F');
  const AgreementStudy study = agreement_study(calls({{"A", a}, {"B", b}}, 50));
  REQUIRE(study.between.size() == 1);
  CHECK(std::abs(*study.between[0].kappa - 0.4) < 1e-12);
  CHECK(study.between[0].agreed == 35);
}

TEST_CASE("a bad part that was passed keeps the bench from being fit") {
  const std::string truth = "PPPPPPPPPPFFFFFFFFFF", miss = "PPPPPPPPPPFFFFFFFFFP";
  const AgreementStudy right =
      agreement_study(calls({{"A", truth + truth}, {"B", truth + truth}}, 20), reference(truth));
  CHECK(right.fitness == Fitness::fit);
  CHECK(right.against[0].false_passes == 0);
  CHECK(std::abs(right.against[0].largest_false_pass - (1 - std::pow(0.05, 1.0 / 20))) < 1e-9);  // closed form
  const AgreementStudy wrong =
      agreement_study(calls({{"A", truth + truth}, {"B", truth + miss}}, 20), reference(truth));
  CHECK(wrong.against[1].false_passes == 1);
  CHECK(wrong.fitness != Fitness::fit);
}

TEST_CASE("operators who agree on everything are not fit without a reference, nor with one that holds no bad part") {
  const std::string all = "PPPPPFFFFF", good = "PPPPPPPPPP";
  CHECK(agreement_study(calls({{"A", all + all}, {"B", all + all}}, 10)).fitness == Fitness::marginal);
  CHECK(agreement_study(calls({{"A", good + good}, {"B", good + good}}, 10), reference(good)).fitness ==
        Fitness::unfit);
}

TEST_CASE("a reference that lacks a part, or contradicts itself, is refused") {
  const std::string all = "PPPPPFFFFF";
  CHECK_THROWS_AS(agreement_study(calls({{"A", all}, {"B", all}}, 10), reference("PPPPP")), Error);
  auto twice = reference(all);
  twice.push_back({"0", false});
  CHECK_THROWS_AS(agreement_study(calls({{"A", all}, {"B", all}}, 10), twice), Error);
}

TEST_CASE("sheets are read as spreadsheets write them") {
  const StudySheet comma =
      read_study("part,operator,trial,value\n1,Ann,1,14.2 kohm\n\"2, blue\",Bo,1,14.3 kohm\r\n", "s.csv");
  REQUIRE(comma.values.size() == 2);
  CHECK(comma.values[0].value == doctest::Approx(14200));
  CHECK(comma.values[1].part == "2, blue");
  const StudySheet semicolon = read_study("\xEF\xBB\xBFPart;Operator;Value\n1;Ann;0,25\n", "s.csv");
  CHECK(semicolon.values[0].value == doctest::Approx(0.25));
  CHECK(read_study("part,operator,result\n1,Ann,Pass\n", "s.csv").calls[0].pass);
}

TEST_CASE("sheets that cannot be understood are refused with the line") {
  for (const char* text :
       {"", "part,operator\n1,Ann\n", "part,operator,value\n", "part,operator,value\n1,Ann,\n",
        "part,operator,value\n1,Ann,x\n", "part,operator,value\n1,Ann,1,2\n", "part,operator,result\n1,Ann,maybe\n",
        "part,operator,value,result\n1,Ann,1,pass\n", "part,operator,value\n1,Ann,1 V\n1,Ann,2 ohm\n",
        "part,operator,value\n1,\"Ann,1\n", "part,operator,value,value\n1,Ann,1,2\n"}) {
    INFO(text);
    CHECK_THROWS_AS(read_study(text, "s.csv"), Error);
  }
  CHECK_THROWS_WITH_AS(read_study("part,operator,value\n1,Ann,1\n1,Ann,x\n", "s.csv"), doctest::Contains("s.csv:3"),
                       Error);
}
