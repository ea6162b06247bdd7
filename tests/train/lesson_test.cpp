// Training: what is hidden, what tells it, and that what the tool says about it holds for a switch solved apart from it
// (the profile room's nodal analysis of one concrete switch).
#include "switchwright/train/lesson.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <filesystem>
#include <random>
#include <set>

#include "explain/simulated.hpp"
#include "judge/parts.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/profile/library.hpp"

using namespace switchwright;

namespace {

Profile shipped(const std::string& id) { return load_profile(id, {std::filesystem::path(SOURCE_DIR) / "profiles"}); }

Knowledge library() { return load_knowledge({std::filesystem::path(SOURCE_DIR) / "profiles"}); }

/// What a meter shows at every place of a switch with these faults.
std::vector<LessonReading> all_readings(const Lesson& lesson, const Profile& part, const std::vector<Fault>& faults,
                                        std::uint64_t seed) {
  std::mt19937_64 random(seed);
  simulated::Meter meter(parts::finer(), random);
  const Leads leads = meter.leads();
  PartValues values;
  values.closed_contact_ohm = 0.012;
  std::vector<LessonReading> readings;
  for (const Place& place : lesson.places()) {
    const double ohm =
        network_of(part, place.position, values, faults).resistance_ohm(place.pair.first(), place.pair.second());
    const Indication i = meter.read(ohm);
    LessonReading reading{place, std::nullopt, 0.0};
    if (i.state == ReadingState::finite) {
      reading.ohm = std::max(0.0, i.value - leads.correction_ohm());
      reading.U_ohm = uncertainty_of(parts::finer(), Quantity::resistance, i.value, i.resolution, &leads).U;
    }
    readings.push_back(reading);
  }
  return readings;
}

}  // namespace

TEST_CASE("the hidden fault is never ruled out by its own readings and the shortest way finds it") {
  for (const char* id :
       {"regulator-shunt-240", "regulator-both-legs-240", "rocker-lamp", "selector-three-heat", "relay-changeover"}) {
    for (const LessonLevel level : {LessonLevel::easy, LessonLevel::hard}) {
      const Lesson lesson(shipped(id), parts::finer(), level, library());
      for (std::uint64_t seed = 1; seed <= 40; ++seed) {
        CAPTURE(id);
        CAPTURE(seed);
        const std::size_t hidden = lesson.hidden(seed);
        CAPTURE(lesson.cases()[hidden].name);
        const auto readings = all_readings(lesson, lesson.part_of(hidden), lesson.faults_of(hidden, seed), seed);
        CHECK(lesson.against(hidden, readings).empty());
        if (hidden != 0) CHECK_FALSE(lesson.same_readings(0, hidden));

        const auto way = lesson.shortest_way(hidden);
        std::vector<LessonReading> taken;
        for (const LessonReading& reading : readings)
          if (std::find(way.begin(), way.end(), reading.place) != way.end()) taken.push_back(reading);
        for (const std::size_t still : lesson.left(taken)) {
          CAPTURE(lesson.cases()[still].name);
          CHECK((still == hidden || lesson.same_readings(still, hidden)));
        }
      }
    }
  }
}

TEST_CASE("taking the most telling reading again and again leaves only what looks the same") {
  const Lesson lesson(shipped("regulator-shunt-240"), parts::finer(), LessonLevel::hard, library());
  for (std::uint64_t seed = 1; seed <= 30; ++seed) {
    CAPTURE(seed);
    const std::size_t hidden = lesson.hidden(seed);
    const auto all = all_readings(lesson, lesson.part_of(hidden), lesson.faults_of(hidden, seed), seed);
    std::vector<LessonReading> taken;
    while (const auto next = lesson.most_telling(taken)) {
      REQUIRE(taken.size() < all.size());
      for (const LessonReading& reading : all)
        if (reading.place == *next) taken.push_back(reading);
    }
    CHECK(taken.size() < 20);  // of 60
    const auto left = lesson.left(taken);
    CHECK(std::find(left.begin(), left.end(), hidden) != left.end());
  }
}

TEST_CASE("the same seed hides the same fault and other seeds hide others") {
  const Lesson lesson(shipped("regulator-shunt-240"), parts::handheld(), LessonLevel::hard, library());
  std::set<std::size_t> seen;
  for (std::uint64_t seed = 0; seed < 200; ++seed) {
    CHECK(lesson.hidden(seed) == lesson.hidden(seed));
    CHECK(lesson.faults_of(lesson.hidden(seed), seed) == lesson.faults_of(lesson.hidden(seed), seed));
    seen.insert(lesson.hidden(seed));
  }
  CHECK(seen.size() > 15);
  CHECK(seen.contains(0));
}

TEST_CASE("a fault is named by its name or number in any order and case") {
  const Lesson lesson(shipped("regulator-shunt-240"), parts::handheld(), LessonLevel::hard, library());
  CHECK(lesson.named("none") == 0);
  CHECK(lesson.named("1") == 0);
  CHECK(lesson.cases()[lesson.named("Stuck-Closed:cycling")].name == "stuck-closed:cycling");
  CHECK(lesson.named("stuck-open:line + open:heater") == lesson.named("open:heater+stuck-open:line"));
  CHECK_THROWS_AS(lesson.named("stuck-closed:cyclin"), Error);
  CHECK_THROWS_AS(lesson.named(""), Error);
  CHECK_THROWS_AS(lesson.named("99999"), Error);
  // The numbers are those of the list that the learner sees.
  const std::size_t line = lesson.named("stuck-open:line");
  const std::size_t heater = lesson.named("open:heater");
  CHECK(lesson.named(std::to_string(line + 1) + " + " + std::to_string(heater + 1)) ==
        lesson.named("stuck-open:line + open:heater"));
}

TEST_CASE("a welded cycling contact is told by L2 to H2 at off") {
  const Lesson lesson(shipped("regulator-shunt-240"), parts::handheld(), LessonLevel::easy, library());
  const std::size_t welded = lesson.named("stuck-closed:cycling");
  const LessonReading closed{{"off", {"L2", "H2"}}, 0.1, 0.5};
  CHECK(lesson.contradicts(closed, 0));
  CHECK_FALSE(lesson.contradicts(closed, welded));
  CHECK(lesson.prediction(0, closed.place) == "open");
  CHECK(lesson.prediction(welded, closed.place) == "closed");
}

TEST_CASE("the hard level hides every kind of fault that a diagnosis knows") {
  std::set<std::string> kinds;
  for (const char* id : {"regulator-shunt-240", "selector-three-heat"}) {
    const Lesson lesson(shipped(id), parts::handheld(), LessonLevel::hard, library());
    for (std::uint64_t seed = 0; seed < 400; ++seed) kinds.insert(lesson.cases()[lesson.hidden(seed)].kind);
  }
  for (const char* kind : {"none", "stuck-closed", "stuck-open", "resistive", "open", "shorted", "drifted", "swapped",
                           "clocked", "bridged", "tied", "profile", "two"})
    CHECK_MESSAGE(kinds.contains(kind), std::string{kind});
}

TEST_CASE("another part of the library reads as that part") {
  const Lesson lesson(shipped("regulator-shunt-240"), parts::handheld(), LessonLevel::hard, library());
  const std::size_t other = lesson.named("profile:regulator-shunt-120");
  CHECK(lesson.part_of(other).id == "regulator-shunt-120");
  // The heater of the 120 V version, as its file gives it: 3600 ohm and 15 %.
  const LessonReading heater{{"off", {"H1", "H2"}}, 3600.0, 30.0};
  CHECK_FALSE(lesson.contradicts(heater, other));
  CHECK(lesson.contradicts(heater, 0));
}
