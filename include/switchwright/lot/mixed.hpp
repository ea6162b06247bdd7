// The mixed carton: the heater resistance of a unit against the version that was ordered and those that it may be instead.
#pragma once

#include <optional>
#include <span>
#include <string>
#include <vector>

namespace switchwright {

/// One version of a part, as its profile has it.
struct VersionOhm {
  std::string id;
  double lower_ohm = 0.0;  ///< nominal less tolerance
  double upper_ohm = 0.0;
  bool ordered = false;
};

/// What is believed before anything is measured, as weights; assumed, and said so in every report.
struct MixedPriors {
  double ordered = 0.97;
  double each_other = 0.02;  ///< of every other version listed
  double neither = 0.01;     ///< of no version listed
};

struct VersionChance {
  std::string id;
  double probability = 0.0;
};

enum class VersionAnswer {
  ordered,    ///< what was ordered, nothing else comes near
  other,      ///< one of the other versions: name it
  neither,    ///< of no version listed
  ambiguous,  ///< cannot be told from this value; undecided, never ordered
};

struct VersionOf {
  std::vector<VersionChance> versions;  ///< most probable first
  double neither = 0.0;                 ///< probability
  VersionAnswer answer = VersionAnswer::ambiguous;
  std::string id;     ///< of the version for `ordered` and `other`
  std::string words;  ///< one sentence
};
/// A version's values are taken as equally likely between its limits, the reading as normal with standard uncertainty `u_ohm` about
/// the true value; "neither" as any resistance between a tenth of the smallest limit and ten times the largest (log-uniform).
/// The answer is given from a probability of 0.95 on; `ordered` moreover only where it would be so if every version had been as likely
/// before: what was ordered is no evidence of what came.
/// @throws Error(usage) without exactly one ordered version, for limits that are no interval above 0, or for a reading that is not
/// above 0 ohm.
VersionOf version_of(double ohm, double u_ohm, std::span<const VersionOhm> versions, const MixedPriors& priors = {});

}  // namespace switchwright
