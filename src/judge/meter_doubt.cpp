#include "judge/meter_doubt.hpp"

#include <limits>

namespace switchwright {

namespace {

constexpr double infinity = std::numeric_limits<double>::infinity();
constexpr double gross = 10.0;  // no battery and no calibration is off by that much: a rule of this tool

/// Why the reading's uncertainty is not known; empty when it is.
const char* doubt(const Indication& indication, const MeterDefinition& meter) {
  if (indication.flags.low_battery)
    return "The meter's battery is low, so its accuracy is not as specified: replace the battery and measure again.";
  if (indication.state == ReadingState::finite &&
      meter.accuracy_for(indication.quantity, indication.value, indication.resolution) == nullptr)
    return "The meter definition gives no accuracy for this reading: add the rows from the meter's manual.";
  return nullptr;
}

bool far_beyond(double value, const Interval& limit) {
  return (limit.bounded_above() && value > gross * limit.max) || (limit.bounded_below() && value < limit.min / gross);
}

}  // namespace

void withhold_what_is_unproven(Finding& finding, const MeterDefinition& meter) {
  const char* const why = doubt(finding.indication, meter);
  if (!why) return;
  const bool over_range = finding.indication.state == ReadingState::over_range;
  const auto stands = [&](const Interval& limit) {
    return over_range || (finding.corrected && far_beyond(*finding.corrected, limit));
  };
  // Closed paths have no lower limit: nothing is too well connected.
  const Interval limit = finding.expected.state == PairState::closed ? Interval{-infinity, finding.expected.ohm.max}
                                                                     : finding.expected.ohm;
  if (finding.continuity == Outcome::pass || !stands(limit)) finding.continuity = Outcome::undecided;
  if (finding.sound == Outcome::pass ||
      (finding.sound == Outcome::fail && !stands({-infinity, *finding.expected.sound_max_ohm})))
    finding.sound = Outcome::undecided;
  finding.outcome = finding.sound == Outcome::fail ? Outcome::fail : finding.continuity;
  finding.p_conform.reset();
  if (finding.outcome != Outcome::fail) {
    finding.kind.reset();
    finding.severity.reset();
  }
  finding.sentence +=
      finding.outcome == Outcome::undecided ? std::string{" Undecided all the same. "} + why : std::string{" "} + why;
}

void withhold_what_is_unproven(VoltageFinding& finding, const MeterDefinition& meter) {
  const char* const why = doubt(finding.indication, meter);
  if (!why) return;
  // Live where it must be dead, and dead where it must be live, stays what it is.
  const bool stands = finding.kind == DeviationKind::live || finding.kind == DeviationKind::dead;
  if (!(finding.outcome == Outcome::fail && stands)) {
    finding.outcome = Outcome::undecided;
    finding.kind.reset();
    finding.severity.reset();
  }
  finding.sentence +=
      finding.outcome == Outcome::undecided ? std::string{" Undecided all the same. "} + why : std::string{" "} + why;
}

}  // namespace switchwright
