// One exercise of a lesson: what is hidden, what the learner has read so far, which reading would tell most
// now, and what can be said about an answer.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "switchwright/judge/judge.hpp"
#include "switchwright/train/lesson.hpp"

namespace switchwright {

/// What is said when the learner has named something, or has given up. Indices are of Lesson::cases() and of
/// the readings.
struct Judgement {
  std::optional<std::size_t> named;  ///< absent: gave up
  bool exact = false;
  bool same_readings = false;  ///< another case, but no reading tells the two apart
  bool right() const { return exact || same_readings; }

  std::optional<std::size_t> refuted_by;  ///< a reading of the learner's own that speaks against what was named
  std::vector<std::size_t> told_it;       ///< readings that a good part would not have given
  struct Fallen {
    std::size_t of = 0;
    std::size_t reading = 0;  ///< the first that speaks against it
  };
  std::vector<Fallen> fallen;         ///< every other case that some reading rules out
  std::vector<std::size_t> alike;     ///< no reading can tell them from what was hidden
  std::vector<std::size_t> standing;  ///< could have been told, but not by what was read
};

class Exercise {
 public:
  /// The lesson must outlive the exercise.
  Exercise(const Lesson& lesson, std::uint64_t seed);

  const Lesson& lesson() const { return *lesson_; }
  std::uint64_t seed() const { return seed_; }
  std::size_t hidden() const { return hidden_; }
  /// What the simulator is given: faults with their values, and the part they are in.
  std::vector<Fault> hidden_faults() const { return lesson_->faults_of(hidden_, seed_); }
  const Profile& hidden_part() const { return lesson_->part_of(hidden_); }
  std::string hidden_name() const;  ///< with its values: "resistive:line=12.3"

  void set_leads(const Leads& leads) { leads_ = leads; }
  const Leads& leads() const { return leads_; }
  /// Takes a settled reading; reading a place again replaces nothing, both count.
  void add(const Place& place, const Indication& indication);
  const std::vector<LessonReading>& readings() const { return readings_; }
  const std::vector<Indication>& indications() const { return indications_; }
  /// As the record wants them.
  std::vector<Measured> measured() const;

  /// The reading that is expected to tell most now (verify/explain.hpp), and how much, in bits; nothing when
  /// no reading tells the cases apart that are left.
  std::optional<NextReading> next() const;
  /// What a diagnosis makes of the readings so far.
  Diagnosis diagnosis() const;
  Judgement judged(std::optional<std::size_t> named) const;

  struct WayStep {
    NextReading next;
    std::size_t left = 0;  ///< cases that still stand after it
  };
  /// The readings that next() would have asked for from the beginning, as a part of nominal values gives
  /// them, until only what reads the same as the hidden case is left.
  std::vector<WayStep> informed_way() const;
  /// Of all readings, how many a qualification would fail because of what is hidden; absent for what is not a
  /// single fault.
  std::optional<std::size_t> shown_by() const;

 private:
  std::vector<Finding> findings() const;

  const Lesson* lesson_;
  std::uint64_t seed_;
  std::size_t hidden_;
  Leads leads_;
  std::vector<LessonReading> readings_;
  std::vector<Indication> indications_;
};

}  // namespace switchwright
