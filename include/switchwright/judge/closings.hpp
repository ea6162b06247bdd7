// Every time the knob came to a place counts: which readings of a place stand, the worst of them, whether a contact
// closes alike each time, and whether it was seen to close often enough.
#pragma once

#include <map>
#include <string>
#include <vector>

#include "switchwright/judge/judge.hpp"

namespace switchwright {

/// One place with the readings that stand, in the order the knob came to it. A reading that was taken again on purpose
/// replaces the one it repeats, and no other.
struct PlaceReadings {
  const Expectation* expected = nullptr;
  std::vector<const Measured*> visits;
  std::vector<const Measured*> replaced;
};
/// In the order of the first reading of each place; what the profile does not check is only counted.
std::vector<PlaceReadings> readings_by_place(const std::vector<Expectation>& expected,
                                             const std::vector<Measured>& measured, std::size_t& unchecked);

/// The finding of a place that was come to several times: the worst of them, with all of them listed in it.
Finding worst_of(const std::vector<Finding>& visits);

/// A contact that closes unevenly never passes: where the closed readings of one pair lie further apart than the
/// display, the settling and the probes explain (and than half of what a sound path may have), the highest of them is
/// undecided if it was a pass.
void judge_scatter(const Profile& profile, const std::vector<Expectation>& expected, std::vector<Finding>& findings,
                   double k);

/// Contacts that were seen to close less often than `wanted` says, in words; `wanted` by contact id.
std::vector<std::string> closings_missing(const Profile& profile, const std::vector<Expectation>& expected,
                                          const std::vector<PlaceReadings>& places,
                                          const std::vector<Measured>& measured,
                                          const std::map<std::string, int>& wanted);

}  // namespace switchwright
