// Results of other instruments: what must not pass, and what does. Limits and values are invented.
#include "switchwright/judge/stated.hpp"

#include <doctest/doctest.h>

#include <string>
#include <vector>

#include "parts.hpp"
#include "switchwright/core/error.hpp"

using namespace parts;

namespace {

const Wall day = parse_iso8601("2026-06-15T08:00:00.000Z");

Profile with_limits() {
  Profile p = regulator();
  const auto limit = [&](const char* id, StatedQuantity quantity, Interval interval, bool required) {
    p.stated.push_back({id, quantity, "as the sheet says", interval, std::nullopt, Severity::critical, required});
  };
  limit("insulation", StatedQuantity::insulation_resistance, {1e6, infinity}, true);
  limit("withstand", StatedQuantity::withstand_current, {-infinity, 5e-3}, false);
  limit("rise", StatedQuantity::temperature_rise, {-infinity, 30.0}, false);
  limit("pull", StatedQuantity::tab_pull, {60.0, infinity}, false);
  return p;
}

std::vector<StatedFinding> judged(const std::vector<std::string>& texts) {
  const Profile p = with_limits();
  std::vector<StatedResult> results;
  for (const std::string& text : texts) results.push_back(parse_stated(text, p));
  return judge_stated(p, results, day, DecisionRule::guarded);
}

}  // namespace

TEST_CASE("a stated result is judged like a reading and a doubtful one passes nothing") {
  using enum Decided;
  const std::string good = ", U=10%, instrument=IT-7, due=2027-01-31";
  struct Row {
    std::string what;
    std::vector<std::string> stated;
    Decided decided;
  };
  const std::vector<Row> rows{
      {"nothing stated that had to be", {}, undecided},
      {"well above the limit", {"insulation=500 Mohm" + good}, pass},
      {"no more than the range, which is enough", {"insulation=>999Mohm" + good}, pass},
      {"below the limit", {"insulation=0.5 Mohm" + good}, fail},
      {"within U of the limit", {"insulation=1.05 Mohm" + good}, undecided},
      {"milliohms for megohms", {"insulation=500 mohm" + good}, fail},
      {"less than the range, which is more than the limit", {"insulation=<5 Mohm" + good}, undecided},
      {"no uncertainty", {"insulation=500 Mohm, instrument=IT-7, due=2027-01-31"}, undecided},
      {"no instrument", {"insulation=500 Mohm, U=10%, due=2027-01-31"}, undecided},
      {"no due date", {"insulation=500 Mohm, U=10%, instrument=IT-7"}, undecided},
      {"overdue", {"insulation=500 Mohm, U=10%, instrument=IT-7, due=2026-06-14"}, undecided},
      {"due today", {"insulation=500 Mohm, U=10%, instrument=IT-7, due=2026-06-15"}, pass},
      {"overdue and failing all the same", {"insulation=0.1 Mohm, U=10%, instrument=IT-7, due=2020-01-01"}, fail},
      {"it tripped at the limit",
       {"insulation=500 Mohm" + good, "withstand=>5 mA, instrument=IT-7, due=2027-01-31"},
       fail},
      {"it tripped within U of the limit", {"insulation=500 Mohm" + good, "withstand=>5 mA" + good}, undecided},
      {"leaks little", {"insulation=500 Mohm" + good, "withstand=0.4 mA" + good}, pass},
      {"leaks too much", {"insulation=500 Mohm" + good, "withstand=8 mA" + good}, fail},
      {"too hot", {"insulation=500 Mohm" + good, "rise=45 K" + good}, fail},
      {"one of three tabs comes off",
       {"insulation=500 Mohm" + good, "pull=90 N" + good, "pull=20 N" + good, "pull=90 N" + good},
       fail},
      {"the required one is missing beside others", {"pull=90 N" + good}, undecided},
  };
  for (const Row& row : rows) {
    CAPTURE(row.what);
    CHECK(stated_item(judged(row.stated)).decided == row.decided);
  }
}

TEST_CASE("a stated result that cannot be is refused") {
  const Profile p = with_limits();
  for (const char* wrong : {"", "insulation", "insulation=", "insulation=500", "insulation=500 V", "insulation=-5 Mohm",
                            "insulation=nan Mohm", "insulatoin=500 Mohm", "insulation=500 Mohm, due=2026-02-30",
                            "insulation=500 Mohm, due=soon", "insulation=500 Mohm, U=0%", "insulation=500 Mohm, U=x",
                            "insulation=500 Mohm, due=2027-01-31, due=2028-01-31", "rise=30 N", "pull=5 kg",
                            "withstand=1,000 mA", "insulation=500 Mohm, U=1,000 Mohm"}) {
    CAPTURE(wrong);
    CHECK_THROWS_AS(parse_stated(wrong, p), Error);
  }
  CHECK_THROWS_AS(parse_stated("insulation=500 Mohm", regulator()), Error);  // no limit in the profile
  const StatedResult comma =
      parse_stated("insulation=0,5 Mohm, instrument=Insulation tester, small, due=2027-01-31", p);
  CHECK(comma.value == doctest::Approx(5e5));
  CHECK(comma.instrument == "Insulation tester, small");
}

TEST_CASE("a statement whose limit is gone passes nothing") {
  StatedResult orphan;
  orphan.id = "insulation";
  orphan.text = "insulation=500 Mohm";
  CHECK(stated_item(judge_stated(regulator(), {orphan}, day, DecisionRule::guarded)).decided == Decided::undecided);
}
