// Only a part that has passed without power is energised. Which record says so, and why another does not.
#pragma once

#include <string>

#include "switchwright/bench/session.hpp"
#include "switchwright/core/clock.hpp"
#include "switchwright/profile/profile.hpp"
#include "switchwright/record/store.hpp"

namespace switchwright {

/// The part that is to be energised.
struct PartAtHand {
  const Profile& profile;
  std::string serial;
  bool simulated = false;  ///< a simulated record says nothing about a real part, and the other way round
};

/// The record that lets this part be energised: the one that is named, or the newest cold record of the same serial number
/// that ended in this sitting (an hour at most, common practice, no source).
/// @param named empty: of this sitting. @param now for how long ago that was.
/// @throws Error(usage): no serial number, no such record, another part or profile, unfinished, not passed, or a later
/// record of the same serial number speaks against it; Error(store): its chain does not hold.
ColdProof cold_proof(const Store& store, const std::string& named, const PartAtHand& part, Wall now);

/// The record that an earlier sitting of a record under power was begun on; empty when it does not say.
std::string cold_record_of(const Record& powered);

}  // namespace switchwright
