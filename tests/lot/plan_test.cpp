// Plans against the published tables and worked examples. "published": seen in a published copy; "calc": from the table by hand.
#include "switchwright/lot/plan.hpp"

#include <doctest/doctest.h>

#include <fstream>
#include <sstream>
#include <string>
#include <vector>

#include "switchwright/core/error.hpp"

using namespace switchwright;

namespace {

SamplingPlan plan(long lot, const char* level, double aql, const char* mode = "normal") {
  return sampling_plan(lot, inspection_level_named(level), aql, inspection_mode_named(mode));
}

struct Wanted {
  long from, to;
  int n, ac, re;
};

void check_all(const std::vector<Wanted>& rows, double aql, const char* mode) {
  for (const Wanted& row : rows)
    for (const long lot : {row.from, row.to}) {
      const SamplingPlan got = plan(lot, "II", aql, mode);
      INFO("lot " << lot << " AQL " << aql << " " << mode);
      CHECK(got.table.sample_size == row.n);
      CHECK(got.accept == row.ac);
      CHECK(got.reject == row.re);
    }
}

}  // namespace

TEST_CASE("all 1248 plans of the standard's single sampling tables are given, arrows followed") {
  std::ifstream file(SOURCE_DIR "/tests/lot/mil_std_105e_single.csv");
  std::string line;
  int rows = 0;
  while (std::getline(file, line)) {
    if (line.empty() || line.front() == '#' || line.starts_with("inspection")) continue;
    std::istringstream cells(line);
    std::string mode, letter, aql, n, ac, re;
    for (std::string* cell : {&mode, &letter, &aql, &n, &ac, &re}) std::getline(cells, *cell, ',');
    const TablePlan got = table_plan(inspection_mode_named(mode), letter.front(), std::stod(aql));
    INFO(line);
    CHECK(got.sample_size == std::stoi(n));
    CHECK(got.accept == std::stoi(ac));
    CHECK(got.reject == std::stoi(re));
    ++rows;
  }
  CHECK(rows == 1248);
}

TEST_CASE("plans of 21 CFR 800.20 for gloves are those of level II") {  // published
  check_all({{8, 90, 8, 0, 1}, {91, 280, 32, 1, 2}, {281, 500, 50, 2, 3}, {501, 1200, 80, 3, 4}}, 1.5, "normal");
  check_all({{5, 50, 5, 0, 1}, {51, 150, 20, 1, 2}, {151, 280, 32, 2, 3}, {281, 500, 50, 3, 4}, {501, 1200, 80, 5, 6}},
            2.5, "normal");
  // The last row of the regulation stops being letter N above 150 000; 35 000 itself stands in the row before in MIL-STD-105E.
  check_all({{13, 90, 13, 0, 1},
             {91, 500, 50, 1, 2},
             {501, 1200, 80, 2, 3},
             {1201, 3200, 125, 3, 4},
             {3201, 10000, 200, 5, 6},
             {10001, 35000, 315, 8, 9},
             {35001, 150000, 500, 12, 13}},
            1.5, "tightened");
  check_all({{8, 50, 8, 0, 1},
             {51, 280, 32, 1, 2},
             {281, 500, 50, 2, 3},
             {501, 1200, 80, 3, 4},
             {1201, 3200, 125, 5, 6},
             {3201, 10000, 200, 8, 9},
             {10001, 35000, 315, 12, 13},
             {35001, 150000, 500, 18, 19}},
            2.5, "tightened");
}

TEST_CASE(
    "special levels follow their arrows up and down") {  // published: a 2023 article, ISO 2859-1, lots of 35 001 to 500 000
  struct Row {
    double aql;
    const char* level;
    int n, ac;
    char letter, from;
  };
  for (const Row& row :
       {Row{0.65, "S-4", 80, 1, 'J', 'J'}, Row{0.65, "S-3", 20, 0, 'F', 'G'}, Row{0.40, "S-4", 125, 1, 'K', 'J'},
        Row{0.40, "S-3", 32, 0, 'G', 'G'}, Row{0.25, "S-4", 50, 0, 'H', 'J'}, Row{0.15, "S-4", 80, 0, 'J', 'J'}})
    for (const long lot : {35001L, 500000L}) {
      const SamplingPlan got = plan(lot, row.level, row.aql);
      CHECK(got.code_letter == row.from);
      CHECK(got.table.letter == row.letter);
      CHECK(got.sample_size == row.n);
      CHECK(got.accept == row.ac);
      CHECK(got.reject == row.ac + 1);
    }
}

TEST_CASE("worked examples of textbooks come out") {
  struct Row {
    long lot;
    double aql;
    const char* mode;
    int n, ac, re;
  };
  for (const Row& row :
       {Row{5000, 1.5, "normal", 200, 7, 8}, Row{5000, 1.5, "tightened", 200, 5, 6},    // published: a statistics text
        Row{800, 2.5, "normal", 80, 5, 6},                                              // published: a teaching text
        Row{2000, 0.65, "normal", 125, 2, 3}, Row{2000, 0.65, "tightened", 125, 1, 2},  // from memory: a textbook
        Row{2000, 0.65, "reduced", 50, 1, 3}, Row{125000, 1.0, "normal", 500, 10, 11}}) {  // calc
    const SamplingPlan got = plan(row.lot, "II", row.aql, row.mode);
    CHECK(got.sample_size == row.n);
    CHECK(got.accept == row.ac);
    CHECK(got.reject == row.re);
  }
}

TEST_CASE("the sample size is that of the row the arrow leads to, also upwards") {  // calc
  const SamplingPlan up = plan(11000, "II", 15);
  CHECK(up.code_letter == 'M');
  CHECK(up.table.letter == 'J');
  CHECK(up.sample_size == 80);
  CHECK(up.accept == 21);
  const SamplingPlan down = plan(50, "II", 0.65);
  CHECK(down.code_letter == 'D');
  CHECK(down.sample_size == 20);
  CHECK(down.accept == 0);
}

TEST_CASE("row S of tightened inspection is reached by the arrow from R") {  // calc
  const SamplingPlan got = plan(500001, "III", 0.025, "tightened");
  CHECK(got.code_letter == 'R');
  CHECK(got.table.letter == 'S');
  CHECK(got.sample_size == 3150);
  CHECK(got.accept == 1);
}

TEST_CASE("a sample that reaches the lot means that every unit is inspected") {  // footnote of Tables II
  const SamplingPlan small = plan(8, "II", 1.0);                                 // calc: A, by the arrow to E
  CHECK(small.code_letter == 'A');
  CHECK(small.table.sample_size == 13);
  CHECK(small.whole_lot);
  CHECK(small.sample_size == 8);
  CHECK(small.accept == 0);
  CHECK(plan(13, "II", 1.0).whole_lot);        // equals
  CHECK_FALSE(plan(14, "II", 1.0).whole_lot);  // one more
}

TEST_CASE("code letters change exactly at the sizes of Table I") {  // published
  struct Row {
    long lot;
    const char* level;
    char letter;
  };
  for (const Row& row :
       {Row{2, "II", 'A'}, Row{8, "III", 'B'}, Row{9, "II", 'B'}, Row{150, "II", 'F'}, Row{151, "II", 'G'},
        Row{1200, "II", 'J'}, Row{1201, "II", 'K'}, Row{500000, "I", 'M'}, Row{500001, "I", 'N'},
        Row{500001, "III", 'R'}, Row{500001, "S-1", 'D'}, Row{500001, "S-3", 'H'}, Row{500000, "S-3", 'G'},
        Row{25, "S-3", 'B'}, Row{15, "S-4", 'A'}, Row{200, "S-2", 'C'}})
    CHECK(code_letter(row.lot, inspection_level_named(row.level)) == row.letter);
}

TEST_CASE("double plans of Table III-A") {  // published (one transcription)
  const DoubleOffer got = double_plan(plan(5000, "II", 1.5));
  REQUIRE(got.plan);
  CHECK(got.plan->sample_size == 125);
  CHECK(got.plan->accept1 == 3);
  CHECK(got.plan->reject1 == 7);
  CHECK(got.plan->accept2 == 8);
  CHECK(got.plan->reject2 == 9);
  const DoubleOffer smallest = double_plan(plan(151, "II", 1.5));  // 32, 1/2
  REQUIRE(smallest.plan);
  CHECK(smallest.plan->sample_size == 20);
  CHECK(smallest.plan->accept1 == 0);
  CHECK(smallest.plan->reject1 == 2);
  CHECK(smallest.plan->accept2 == 1);
}

TEST_CASE("no double plan where the standard has none, and it is said why") {
  for (const SamplingPlan& single :
       {plan(50, "II", 1.0), plan(5000, "II", 1.5, "tightened"), plan(8, "II", 1000), plan(4, "III", 65)}) {
    const DoubleOffer got = double_plan(single);
    CHECK_FALSE(got.plan);
    CHECK_FALSE(got.why_not.empty());
  }
}

TEST_CASE("what the standard does not have is refused") {
  CHECK_THROWS_AS(plan(1, "II", 1.0), Error);
  CHECK_THROWS_AS(plan(0, "II", 1.0), Error);
  CHECK_THROWS_AS(plan(100, "II", 3.0), Error);
  CHECK_THROWS_AS(plan(100, "II", 0.0), Error);
  CHECK_THROWS_AS(plan(100, "IV", 1.0), Error);
  CHECK_THROWS_AS(plan(100, "II", 1.0, "relaxed"), Error);
  CHECK_THROWS_AS(table_plan(InspectionMode::normal, 'I', 1.0), Error);
  CHECK_THROWS_AS(table_plan(InspectionMode::tightened, 'S', 0.025), Error);
}
