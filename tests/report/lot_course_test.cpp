// What a lot's rows amount to. The rule for each row is what must not pass: whatever is not surely good holds or rejects the lot.
#include "switchwright/analysis/lot_course.hpp"

#include <doctest/doctest.h>

using namespace switchwright;

namespace {

Wall at(int second) { return Wall{std::chrono::seconds{1'700'000'000 + second}}; }

Record lot_of(int sample, int accept_major, int reject_major = -1) {
  Record lot;
  lot.lot.emplace();
  lot.lot->size = 100;
  for (int i = 1; i <= sample; ++i) lot.lot->units.push_back(i);
  const int reject = reject_major < 0 ? accept_major + 1 : reject_major;
  lot.lot->classes = {{"critical", 0.0, "", sample, 0, 1},
                      {"major", 1.0, "", sample, accept_major, reject},
                      {"minor", 2.5, "", sample, sample - 1, sample}};
  return lot;
}

void tested(Record& lot, int place, const std::string& outcome, const std::string& severity = {}, int second = 0) {
  LotUnitRow row;
  row.place = row.unit = place;
  row.what = "tested";
  row.outcome = outcome;
  row.severity = severity;
  row.text = "headline";
  row.record = "r" + std::to_string(lot.lot_units.size());
  row.at = at(second > 0 ? second : static_cast<int>(lot.lot_units.size()) + 1);
  lot.lot_units.push_back(row);
}

void happened(Record& lot, int place, const std::string& what, int unit = 0) {
  LotUnitRow row;
  row.place = place;
  row.unit = unit > 0 ? unit : place;
  row.what = what;
  row.record = "open";
  row.text = "dropped";
  lot.lot_units.push_back(row);
}

void all_pass(Record& lot, int from = 1) {
  for (int place = from; place <= static_cast<int>(lot.lot->units.size()); ++place) tested(lot, place, "pass");
}

}  // namespace

TEST_CASE("every unit good: accepted") {
  Record lot = lot_of(5, 0);
  all_pass(lot);
  CHECK(course_of(lot).decision == "accept");
}

TEST_CASE("one critical defective unit rejects, whatever the other classes allow") {
  Record lot = lot_of(5, 4);
  tested(lot, 1, "fail", "critical");
  const LotCourse course = course_of(lot);
  CHECK(course.rejection_certain);
  CHECK(course.decision == "reject");
}

TEST_CASE("a critical defect that was seen rejects, also in a unit beyond the sample for critical defects") {
  for (const char* severity : {"critical", "major"}) {
    Record lot = lot_of(5, 4);
    lot.lot->classes[0].sample_size = 2;
    for (int place = 1; place <= 4; ++place) tested(lot, place, "pass");
    tested(lot, 5, "fail", severity);
    const LotCourse course = course_of(lot);
    CHECK(course.decision == (std::string{severity} == "critical" ? "reject" : "accept"));
    CHECK(course.classes[0].defective == 0);
  }
}

TEST_CASE("a unit that was tested and is undecided stays in the count when another is put in its place") {
  Record lot = lot_of(2, 0);
  tested(lot, 1, "pass");
  tested(lot, 2, "undecided");
  happened(lot, 2, "replaced", 9);
  tested(lot, 2, "undecided");
  CHECK(course_of(lot).decision == "hold");
  CHECK(course_of(lot).places[1].unit == 2);
}

TEST_CASE("a fail whose severity nobody knows counts as critical") {
  Record lot = lot_of(5, 4);
  tested(lot, 1, "fail");
  CHECK(course_of(lot).decision == "reject");
}

TEST_CASE("a unit counts in its worst class only") {
  Record lot = lot_of(5, 1);
  tested(lot, 1, "fail", "minor");
  tested(lot, 1, "fail", "major");  // the full plan found more
  all_pass(lot, 2);
  const LotCourse course = course_of(lot);
  CHECK(course.classes[1].defective == 1);
  CHECK(course.classes[2].defective == 0);
  CHECK(course.decision == "accept");
}

TEST_CASE("what is not surely good holds the lot") {
  SUBCASE("undecided") {
    Record lot = lot_of(3, 0);
    all_pass(lot, 2);
    tested(lot, 1, "undecided");
    CHECK(course_of(lot).decision == "hold");
  }
  SUBCASE("failed once and passed once") {
    Record lot = lot_of(3, 0);
    all_pass(lot);
    tested(lot, 1, "fail", "major");
    const LotCourse course = course_of(lot);
    CHECK(course.places[0].state == UnitState::undecided);
    CHECK(course.decision == "hold");
  }
  SUBCASE("passed, then undecided") {
    Record lot = lot_of(3, 0);
    all_pass(lot);
    tested(lot, 1, "undecided");
    CHECK(course_of(lot).decision == "hold");
  }
  SUBCASE("lost") {
    Record lot = lot_of(3, 0);
    all_pass(lot, 2);
    happened(lot, 1, "lost");
    CHECK(course_of(lot).places[0].state == UnitState::lost);
    CHECK(course_of(lot).decision == "hold");
  }
  SUBCASE("begun and not ended") {
    Record lot = lot_of(3, 0);
    all_pass(lot, 2);
    happened(lot, 1, "begun");
    CHECK(course_of(lot).next()->place == 1);
    CHECK(course_of(lot).decision == "hold");
  }
  SUBCASE("not tested") {
    Record lot = lot_of(3, 0);
    all_pass(lot, 2);
    CHECK(course_of(lot).decision == "hold");
  }
  SUBCASE("a unit's record that was changed, even where the count would reject") {
    Record lot = lot_of(3, 0);
    tested(lot, 1, "fail", "critical");
    CHECK(course_of(lot, {"Unit 1: its record was changed."}).decision == "hold");
  }
}

TEST_CASE("undecided, then pass: the later record decides") {
  Record lot = lot_of(3, 0);
  tested(lot, 1, "undecided");
  all_pass(lot);
  CHECK(course_of(lot).decision == "accept");
}

TEST_CASE("a unit that failed stays in the count when another is put in its place") {
  Record lot = lot_of(3, 0);
  tested(lot, 1, "fail", "major");
  happened(lot, 1, "replaced", 50);
  all_pass(lot);
  CHECK(course_of(lot).decision != "accept");
}

TEST_CASE("a lost unit that is replaced is tested in its place") {
  Record lot = lot_of(3, 0);
  happened(lot, 1, "lost");
  happened(lot, 1, "replaced", 50);
  CHECK(course_of(lot).places[0].unit == 50);
  CHECK(course_of(lot).places[0].state == UnitState::missing);
  all_pass(lot);
  CHECK(course_of(lot).decision == "accept");
}

TEST_CASE("acceptance is certain when the rest could all be defective, counting what is undecided as defective") {
  Record lot = lot_of(4, 2);
  lot.lot->classes.erase(lot.lot->classes.begin());  // accepted on zero it is never certain before the last unit
  lot.lot->classes.pop_back();
  tested(lot, 1, "pass");
  tested(lot, 2, "pass");
  CHECK(course_of(lot).acceptance_certain);
  tested(lot, 2, "undecided");
  CHECK_FALSE(course_of(lot).acceptance_certain);
}

TEST_CASE("what was tested between a check that was in and one that was out is undecided") {
  Record lot = lot_of(3, 0);
  const auto check = [&](int second, bool in, const char* record) {
    BenchCheckRow row;
    row.reference = "R100";
    row.in = in;
    row.record = record;
    row.at = at(second);
    lot.bench_checks.push_back(row);
  };
  check(10, true, "a");
  tested(lot, 1, "pass", "", 5);   // before the check that was in
  tested(lot, 2, "pass", "", 20);  // between
  check(30, false, "b");
  CHECK(course_of(lot).places[0].state == UnitState::pass);
  CHECK(course_of(lot).places[1].state == UnitState::undecided);
  CHECK(course_of(lot).bench_is_out);
  check(40, true, "c");
  tested(lot, 2, "pass", "", 50);
  tested(lot, 3, "pass", "", 60);
  CHECK_FALSE(course_of(lot).bench_is_out);
  CHECK(course_of(lot).places[1].state == UnitState::pass);  // tested again on a bench that was in
  CHECK(course_of(lot).places[2].state == UnitState::pass);
}

TEST_CASE("with reference resistors a lot is accepted only when the bench was in after the last unit") {
  struct Row {
    const char* what;
    bool references;
    std::vector<std::pair<int, bool>> checks;  // second, in
    const char* decision;
  };
  const std::vector<Row> rows{
      {"no reference resistors", false, {}, "accept"},
      {"never checked", true, {}, "hold"},
      {"checked at the start of the day alone", true, {{1, true}}, "hold"},
      {"and once more in the middle", true, {{1, true}, {20, true}}, "hold"},
      {"and after the last unit", true, {{1, true}, {40, true}}, "accept"},
      {"which was out", true, {{1, true}, {40, false}}, "hold"},
  };
  for (const Row& row : rows) {
    CAPTURE(row.what);
    Record lot = lot_of(3, 0);
    if (row.references) lot.lot->references.push_back({"R100", 100.0, 0.05});
    for (int unit = 1; unit <= 3; ++unit) tested(lot, unit, "pass", "", 10 * unit);
    for (const auto& [second, in] : row.checks) {
      BenchCheckRow check;
      check.reference = "R100";
      check.in = in;
      check.record = std::to_string(second);
      check.at = at(second);
      lot.bench_checks.push_back(check);
    }
    CHECK(course_of(lot).decision == row.decision);
  }
}

TEST_CASE(
    "reduced inspection: between acceptance and rejection number the lot is accepted and normal inspection comes back") {
  Record lot = lot_of(5, 0, 2);
  tested(lot, 1, "fail", "major");
  all_pass(lot, 2);
  const LotCourse course = course_of(lot);
  CHECK(course.decision == "accept");
  CHECK(course.classes[1].between_numbers);
}
