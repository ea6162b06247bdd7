// Which faults explain the readings, how probable each is, which cannot be told apart, and what to measure
// next.
//
// Method. Each hypothesis predicts every reading; its probability is its prior weight times the probability of all
// readings under it, with everything integrated out that it leaves open (src/explain/evidence.hpp): the resistance of
// each sound contact anywhere from zero to its limit, the same at every closing or not; elements within or beyond their
// tolerance; resistive contacts of any order of magnitude; the meter's error, common to the readings of a range.
// Over-range is a censored observation: it says only that the measurand is beyond the end of the range. A reading may
// be stray (a probe on the wrong terminal, the knob one click off); an over-range without a witness may be a probe that
// does not touch. Prior weights come from a file, are assumed, and the answer is tried against them ten times off.
#pragma once

#include <cstddef>
#include <optional>
#include <string>
#include <vector>

#include "switchwright/explain/hypothesis.hpp"
#include "switchwright/judge/finding.hpp"
#include "switchwright/judge/judge.hpp"

namespace switchwright {

/// A value that was fitted to the readings.
struct FittedValue {
  std::string part;  ///< contact or element
  double ohm = 0.0;
  double u_ohm = 0.0;  ///< standard uncertainty from the readings alone; infinite when no reading depends on it
};

struct Explanation {
  Hypothesis hypothesis;  ///< with fitted values filled in
  double probability = 0.0;
  double log_evidence = 0.0;  ///< natural logarithm, up to a constant common to all
  std::vector<FittedValue> fitted;
  /// Hypotheses with no more causes that these readings cannot tell from this one.
  std::vector<std::string> same_readings_as;
  /// The same, with more causes: what this one hides (an open heater hides that two of its leads are
  /// swapped). Where this one is the more probable, they get no explanation of their own.
  std::vector<std::string> hides;
  std::vector<Consequence> consequences;  ///< what these faults mean, and what to do: see explain/consequence.hpp
};

/// The further reading that is expected to tell most.
struct NextReading {
  Place place;
  double information_bits = 0.0;
};

/// What the answer rests on beside the readings: assumed frequencies of faults. The first explanation was tried with the
/// good part's and with each kind's figure ten times higher and ten times lower, one at a time.
struct Assumed {
  double least_probability = 0.0;  ///< of the first explanation
  double most_probability = 0.0;
  std::vector<std::string> then_first;  ///< what came first in its place in one of these trials
  std::string sentence;                 ///< for a person
};

struct Diagnosis {
  std::vector<Explanation> explanations;  ///< most probable first; those that matter (see ExplainSettings)
  std::optional<NextReading> next;        ///< absent: no reading that is left would tell more
  double good_probability = 0.0;
  /// Probability that every checked pair is within its limits, whatever else may be true of the part (a
  /// contact of 0.3 ohm is not in good order, yet closed; a fault that no reading shows breaks no limit).
  double conforming_probability = 0.0;
  std::size_t hypotheses_weighed = 0;
  /// Readings that the first explanation does not predict (more likely stray than not): a reason to measure
  /// them again.
  std::vector<Place> unexplained;
  Assumed assumed;
  std::string sentence;  ///< for a person
};

struct ExplainSettings {
  bool doubles = true;
  double least_probability = 1e-3;  ///< explanations below are left out
  std::size_t most_explanations = 10;
  double least_information_bits = 0.05;  ///< a further reading that tells less is not proposed
  double k = 2.0;
};

/// Explains the findings of a part. Findings without a usable indication are left aside. `leads` as in
/// judge(). Thread rule: pure.
Diagnosis explain(const Profile& profile, const std::vector<Profile>& others, const std::vector<Finding>& findings,
                  const std::vector<Place>& still_possible, const MeterDefinition& meter, const Leads& leads,
                  const FaultPriors& priors, const ExplainSettings& settings = {});

/// What one hypothesis says about a reading not yet taken.
struct Outlook {
  double probability = 0.0;  ///< of the hypothesis
  double ohm = 0.0;          ///< predicted, may be infinite
  double u_ohm = 0.0;        ///< standard uncertainty of a finite reading there
  double over_range = 0.0;   ///< probability of an over-range reading
};
/// Mutual information between hypothesis and reading, in bits: how much the reading is expected to tell.
double expected_information_bits(const std::vector<Outlook>& outlooks);

}  // namespace switchwright
