// Which faults a set of readings can find, and the shortest sets that still find them all.
#pragma once

#include <cstddef>
#include <optional>
#include <string>
#include <vector>

#include "switchwright/explain/explain.hpp"

namespace switchwright {

/// One single fault, with the value taken for it where it has one (see coverage()).
struct CoveredFault {
  Hypothesis hypothesis;
  std::vector<std::size_t> detected_by;       ///< indices into Coverage::places; empty: no reading shows it
  std::vector<std::string> same_readings_as;  ///< single faults (or "none") that no reading tells from this one
  bool detected() const { return !detected_by.empty(); }
  bool isolated() const { return same_readings_as.empty(); }
};

struct Coverage {
  std::vector<Place> places;  ///< everything that can be measured
  std::vector<CoveredFault> faults;
};

/// What every single fault does to every reading on this meter. A reading detects a fault when it would be
/// judged "fail" (contact taken as stated). Values taken: a resistive contact five times the closed limit; an
/// element drifted by twice its tolerance plus 5 %, up and down (down only as far as half).
Coverage coverage(const Profile& profile, const std::vector<Expectation>& expected, const MeterDefinition& meter,
                  const JudgeSettings& settings = {});

/// The same without asking which faults read alike.
std::vector<CoveredFault> faults_shown(const Profile& profile, const std::vector<Expectation>& expected,
                                       const MeterDefinition& meter, const JudgeSettings& settings = {});

/// What no plan leaves out, however short: every reading to exposed metal, since a hand touches it; every contact between
/// its own terminals at every position, so that its closed and its open state are seen; for each contact one reading that
/// shows whether it is sound, the one with the fewest others in its way, where there is such a pair; every element between
/// its own terminals once.
std::vector<Place> never_left_out(const Profile& profile, const std::vector<Expectation>& expected);

/// The readings that a pass needs: what is never left out, and the fewest others with which every single and every double
/// fault shows that the full plan shows, and every contact that is wrong at one position alone.
struct ShortPlan {
  std::vector<Place> places;
  bool proven_smallest = false;  ///< false: the search was cut short; the plan is good but may not be smallest
  std::vector<std::string> never_detected;  ///< faults that no reading shows, in this plan or in the full one
  std::size_t left_out = 0;                 ///< readings of the full plan that this one does not take
  std::size_t doubles_detected = 0;         ///< double faults that the full plan detects, and this one too
  std::size_t doubles_missed =
      0;                 ///< double faults that the full plan detects and this one does not: none, by its making
  std::string sentence;  ///< what the plan leaves unchecked, for the report
};
ShortPlan short_plan(const Profile& profile, const std::vector<Expectation>& expected, const MeterDefinition& meter,
                     const JudgeSettings& settings = {});

/// How an adaptive qualification goes on.
struct AdaptiveThresholds {
  double looks_good = 0.999;  ///< so probably good: what a pass still needs is taken in the cheapest order
  double fail = 0.99;         ///< stops here, with a failing reading behind it
};

/// Where an adaptive qualification stands.
struct AdaptiveStep {
  bool failed =
      false;  ///< beyond doubt: a reading fails, and the part does not keep its limits with the threshold's probability
  bool looks_good = false;
  double conforming_probability = 0.0;  ///< see Diagnosis
  std::optional<NextReading> next;      ///< absent when failed, or when nothing that is left would tell more
  std::string sentence;
};
/// Takes what has been measured and says whether to stop, or which reading to take next. Only a fail stops, and it needs a
/// finding that fails: a part is never rejected on probability alone, and never passed on it. A pass needs the readings of
/// short_plan(), all of them.
AdaptiveStep adaptive_step(const Profile& profile, const std::vector<Profile>& others,
                           const std::vector<Finding>& findings, const std::vector<Place>& still_possible,
                           const MeterDefinition& meter, const Leads& leads, const FaultPriors& priors,
                           const AdaptiveThresholds& thresholds = {});

}  // namespace switchwright
