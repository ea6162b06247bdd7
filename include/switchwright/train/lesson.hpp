// A switch with a hidden fault, for training: what could be hidden, which readings tell one case from another, the
// fewest readings that tell the hidden one, and what each reading that was taken rules out.
//
// Each case predicts an interval for every reading (contacts and elements at their least and at their most; the law of
// expectation.hpp). Two cases look different at a place when their intervals, widened by the meter's uncertainty, do not
// meet.
#pragma once

#include <cstddef>
#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "switchwright/explain/diagnosis.hpp"
#include "switchwright/meter/definition.hpp"
#include "switchwright/profile/fault.hpp"
#include "switchwright/profile/profile.hpp"

namespace switchwright {

enum class LessonLevel {
  easy,  ///< one fault: a contact that sticks, an element that is open or shorted
  hard,  ///< everything that a diagnosis knows: also resistive contacts, drifted elements, swapped and joined terminals,
         ///< contacts that move as one, a knob put on wrongly, another part of the library, and two faults at once
};

/// Something that may be hidden: nothing, one fault, two, or another part.
struct LessonCase {
  std::string name;          ///< as a learner names it: "none", "resistive:line", "stuck-open:line + open:heater"
  std::string words;         ///< for a person
  std::string kind;          ///< for a list: "stuck-open", "profile", ...; of two faults "two"
  std::vector<Fault> least;  ///< with every value at the end that reads least
  std::vector<Fault> most;   ///< and most
  std::string profile;       ///< id of the other part; empty: the lesson's own
  bool good() const { return most.empty() && profile.empty(); }
};
/// Everything that may be hidden in a part, "none" first. @param others of the library; those with the same terminals and
/// positions may be what is hidden.
std::vector<LessonCase> lesson_cases(const Profile& profile, const std::vector<Profile>& others, LessonLevel level);

/// A reading that was taken.
struct LessonReading {
  Place place;
  std::optional<double> ohm;  ///< leads subtracted; absent: over-range
  double U_ohm = 0.0;
};

class Lesson {
 public:
  Lesson(Profile profile, MeterDefinition meter, LessonLevel level, Knowledge knowledge);

  const Profile& profile() const { return profile_; }
  const MeterDefinition& meter() const { return meter_; }
  const Knowledge& knowledge() const { return knowledge_; }
  /// The part that a case is made of: the lesson's profile, or another one.
  const Profile& part_of(std::size_t of) const;
  const std::vector<LessonCase>& cases() const { return cases_; }
  const std::vector<Place>& places() const { return places_; }

  /// The case that a seed hides: good once in eight; at the hard level two faults one time in four; else any kind that some
  /// reading shows, the kinds equally often.
  std::size_t hidden(std::uint64_t seed) const;
  /// The case as the simulator needs it, values drawn by the seed.
  std::vector<Fault> faults_of(std::size_t of, std::uint64_t seed) const;
  /// The case of that name ("resistive:line"; two joined by "+" in any order), or its number from 1; two numbers joined by
  /// "+" are two faults.
  /// @throws Error(usage) with near names.
  std::size_t named(const std::string& text) const;

  /// A place as a learner writes it: "L1-H1 off" or "l1 h1 off". @throws Error(usage) that says which part is not known.
  Place place_named(const std::string& text) const;

  bool look_different(std::size_t a, std::size_t b, std::size_t place) const;
  /// No reading tells the two apart.
  bool same_readings(std::size_t a, std::size_t b) const;
  bool contradicts(const LessonReading& reading, std::size_t with) const;
  /// Indices into `readings` of those that contradict a case.
  std::vector<std::size_t> against(std::size_t with, const std::vector<LessonReading>& readings) const;
  /// Cases that no reading contradicts.
  std::vector<std::size_t> left(const std::vector<LessonReading>& readings) const;
  /// The place not yet read where most pairs of the cases that are left look different; nothing when none do.
  std::optional<Place> most_telling(const std::vector<LessonReading>& readings) const;
  /// The fewest places that tell a case from every other that can be told from it.
  std::vector<Place> shortest_way(std::size_t to) const;
  /// "0.0 to 0.1 ohm", "open": what a case reads at a place.
  std::string prediction(std::size_t of, const Place& place) const;

 private:
  struct Span {
    double least = 0.0;
    double most = 0.0;
  };
  const Span& span(std::size_t of, std::size_t place) const { return spans_[of][place]; }
  std::size_t index_of(const Place& place) const;
  double U_at(double ohm) const;

  Profile profile_;
  MeterDefinition meter_;
  Knowledge knowledge_;
  double beyond_ohm_ = 0.0;  ///< the end of the meter's ranges: above, it shows over-range
  std::vector<LessonCase> cases_;
  std::vector<Place> places_;
  std::vector<std::vector<Span>> spans_;
};

}  // namespace switchwright
