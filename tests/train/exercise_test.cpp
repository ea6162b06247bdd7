// An exercise from the learner's side: what is asked next, what is said of an answer. The switch is solved by
// the profile room's nodal analysis, apart from what the exercise predicts.
#include "switchwright/train/exercise.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <filesystem>
#include <random>

#include "explain/simulated.hpp"
#include "judge/parts.hpp"
#include "switchwright/profile/library.hpp"

using namespace switchwright;

namespace {

Lesson lesson_on(const char* id, LessonLevel level) {
  const std::vector<std::filesystem::path> folder{std::filesystem::path(SOURCE_DIR) / "profiles"};
  return Lesson(load_profile(id, folder), parts::finer(), level, load_knowledge(folder));
}

std::uint64_t seed_of(const Lesson& lesson, const std::string& name) {
  for (std::uint64_t seed = 0; seed < 5000; ++seed)
    if (lesson.cases()[lesson.hidden(seed)].name == name) return seed;
  FAIL("no seed hides " << name);
  return 0;
}

/// The learner does what is asked until nothing is asked any more.
std::size_t obey(Exercise& exercise, std::uint64_t seed) {
  std::mt19937_64 random(seed);
  simulated::Meter meter(parts::finer(), random);
  exercise.set_leads(meter.leads());
  PartValues values;
  values.closed_contact_ohm = 0.012;
  std::size_t taken = 0;
  while (const auto next = exercise.next()) {
    REQUIRE(++taken <= exercise.lesson().places().size());
    exercise.add(next->place,
                 meter.read(network_of(exercise.hidden_part(), next->place.position, values, exercise.hidden_faults())
                                .resistance_ohm(next->place.pair.first(), next->place.pair.second())));
  }
  return taken;
}

}  // namespace

TEST_CASE("a learner who is led ends with nothing standing but what no reading tells apart") {
  for (const char* id : {"regulator-shunt-240", "interlock-door", "relay-changeover"}) {
    const Lesson lesson = lesson_on(id, LessonLevel::hard);
    for (std::uint64_t seed = 1; seed <= 12; ++seed) {
      Exercise exercise(lesson, seed);
      CAPTURE(id);
      CAPTURE(exercise.hidden_name());
      const std::size_t taken = obey(exercise, seed);
      CHECK(taken < lesson.places().size());
      const Judgement judgement = exercise.judged(exercise.hidden());
      CHECK(judgement.exact);
      CHECK(judgement.standing.empty());
      CHECK(judgement.fallen.size() + judgement.alike.size() + 1 == lesson.cases().size());
      for (const Judgement::Fallen& fallen : judgement.fallen)
        CHECK(lesson.contradicts(exercise.readings()[fallen.reading], fallen.of));
    }
  }
}

TEST_CASE("the informed way rules out everything that can be ruled out and never takes a place twice") {
  const Lesson lesson = lesson_on("regulator-shunt-240", LessonLevel::hard);
  for (std::uint64_t seed = 20; seed < 40; ++seed) {
    const Exercise exercise(lesson, seed);
    CAPTURE(exercise.hidden_name());
    const auto way = exercise.informed_way();
    CHECK(way.size() < 20);  // of 60
    CHECK(lesson.shortest_way(exercise.hidden()).size() <= way.size());
    std::size_t alike = 1;
    for (std::size_t i = 0; i < lesson.cases().size(); ++i)
      alike += i != exercise.hidden() && lesson.same_readings(i, exercise.hidden());
    REQUIRE_FALSE(way.empty());
    CHECK(way.back().left <= alike);
    for (std::size_t i = 0; i < way.size(); ++i)
      for (std::size_t j = 0; j < i; ++j) CHECK_FALSE(way[i].next.place == way[j].next.place);
  }
}

TEST_CASE("a wrong answer is refuted by a reading of the learner's own") {
  const Lesson lesson = lesson_on("regulator-shunt-240", LessonLevel::easy);
  Exercise exercise(lesson, seed_of(lesson, "stuck-closed:cycling"));
  Indication closed;
  closed.value = 0.1;
  closed.resolution = 0.1;
  closed.readings = 3;
  exercise.add({"off", {"L2", "H2"}}, closed);
  const Judgement wrong = exercise.judged(lesson.named("none"));
  CHECK_FALSE(wrong.right());
  REQUIRE(wrong.refuted_by);
  CHECK(*wrong.refuted_by == 0);
  const Judgement right = exercise.judged(lesson.named("stuck-closed:cycling"));
  CHECK(right.exact);
  CHECK_FALSE(right.refuted_by);
  CHECK(right.told_it == std::vector<std::size_t>{0});
  CHECK_FALSE(exercise.judged(std::nullopt).right());
  // L2-H2, and every pair that reaches over it, at off: more than one reading shows it, most do not.
  REQUIRE(exercise.shown_by());
  CHECK(*exercise.shown_by() >= 1);
  CHECK(*exercise.shown_by() < 20);
}
