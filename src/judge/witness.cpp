#include "switchwright/judge/witness.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "switchwright/judge/wording.hpp"

namespace switchwright {

namespace {

/// A reading may stand this much above the most that the network has before it is called above it.
constexpr double meter_share = 0.05;

const Expectation* expected_at(const std::vector<Expectation>& expected, const std::string& position,
                               const Pair& pair) {
  const auto found = std::find_if(expected.begin(), expected.end(),
                                  [&](const Expectation& e) { return e.position == position && e.pair == pair; });
  return found == expected.end() ? nullptr : &*found;
}

}  // namespace

bool could_be_fingers(const Indication& indication) {
  return indication.state == ReadingState::finite && indication.value >= fingers_from_ohm;
}

bool proves_contact(const Indication& indication, const Expectation* expected) {
  if (indication.state != ReadingState::finite || indication.value < -most_lead_ohm) return false;
  if (!could_be_fingers(indication)) return true;
  return expected && (expected->state == PairState::closed || expected->state == PairState::element) &&
         indication.value <= expected->ohm.max * (1.0 + meter_share);
}

Witness witness_of(const Measured& reading, const std::vector<Measured>& all,
                   const std::vector<Expectation>& expected) {
  for (const Measured& other : all) {
    if (other.placement != reading.placement || !(other.pair == reading.pair)) continue;
    if (other.position == reading.position && other.visit == reading.visit) continue;
    if (proves_contact(other.indication, expected_at(expected, other.position, other.pair))) return Witness::witnessed;
  }
  return reading.contact_stated ? Witness::stated : Witness::missing;
}

std::optional<std::string> apart_objection(const Indication& apart) {
  if (apart.state == ReadingState::over_range || could_be_fingers(apart)) return std::nullopt;
  return fmt::format(
      "With the probes held apart the meter shows {}: the tips touch, a clip is shorted, or the display stands still (hold). What "
      "read closed with it proves nothing. Put it right and measure again.",
      apart.state == ReadingState::finite ? wording::ohm(apart.value, apart.resolution) : "no number");
}

bool tips_seen_apart(const std::vector<Finding>& findings, const Leads& leads) {
  if (leads.apart && !apart_objection(*leads.apart)) return true;
  return std::any_of(findings.begin(), findings.end(), [](const Finding& finding) {
    if (finding.indication.state == ReadingState::over_range) return true;
    return finding.corrected && finding.U && *finding.corrected - *finding.U > most_lead_ohm;
  });
}

}  // namespace switchwright
