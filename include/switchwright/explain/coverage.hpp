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
  std::vector<std::size_t> detected_by;  ///< indices into Coverage::places; empty: no reading shows it
  std::vector<std::string>
      same_readings_as;  ///< single faults (or "none") that no reading tells from this one
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
Coverage coverage(const Profile& profile, const std::vector<Expectation>& expected,
                  const MeterDefinition& meter, const JudgeSettings& settings = {});

/// What no plan leaves out, however short: every reading to exposed metal, since a hand touches it; and for each contact
/// one reading that shows whether it is sound, the one with the fewest others in its way, where there is such a pair.
std::vector<Place> never_left_out(const Profile& profile, const std::vector<Expectation>& expected);

/// The fewest readings that detect every single fault that any reading detects, and what is never left out.
struct ShortPlan {
  std::vector<Place> places;
  bool proven_smallest =
      false;  ///< false: the search was cut short; the plan is good but may not be smallest
  std::vector<std::string> never_detected;  ///< faults that no reading shows, in this plan or in the full one
  std::size_t left_out = 0;                 ///< readings of the full plan that this one does not take
  std::size_t doubles_detected = 0;         ///< double faults that the full plan detects and this one too
  std::size_t doubles_missed = 0;  ///< double faults that the full plan detects and this one does not
  std::string sentence;            ///< what the plan leaves unchecked, for the report
};
ShortPlan short_plan(const Profile& profile, const std::vector<Expectation>& expected,
                     const MeterDefinition& meter, const JudgeSettings& settings = {});

/// When an adaptive qualification stops. A fail has a failing reading of its own behind it and needs less.
struct AdaptiveThresholds {
  double pass = 0.999;
  double fail = 0.99;
};

/// Where an adaptive qualification stands.
struct AdaptiveStep {
  bool decided =
      false;  ///< beyond doubt: the part keeps its limits, or does not, with the threshold's probability
  Outcome outcome = Outcome::undecided;
  double conforming_probability = 0.0;  ///< see Diagnosis
  std::optional<NextReading> next;      ///< absent when decided, or when nothing that is left would tell more
  std::string sentence;
};
/// Takes what has been measured and says whether to stop, or which reading to take next. A fail needs a
/// finding that fails, too: a part is never rejected on probability alone. A
/// pass trusts the priors: a fault that they call rare enough is passed over unmeasured, which the full plan
/// never does.
AdaptiveStep adaptive_step(const Profile& profile, const std::vector<Profile>& others,
                           const std::vector<Finding>& findings, const std::vector<Place>& still_possible,
                           const MeterDefinition& meter, const Leads& leads, const FaultPriors& priors,
                           const AdaptiveThresholds& thresholds = {});

}  // namespace switchwright
