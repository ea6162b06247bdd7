// What proves that both probes touched the part, and not each other. One rule, at the bench and in the verdict.
#pragma once

#include <vector>

#include "switchwright/judge/judge.hpp"

namespace switchwright {

/// From here on a reading may be the skin of whoever holds the two tips: some 20 kohm with wet fingers pressed hard,
/// megohms with dry ones (common practice, no source; on the safe side).
inline constexpr double fingers_from_ohm = 10e3;

/// A finite reading that may be fingers on the tips instead of the part: at least fingers_from_ohm.
bool could_be_fingers(const Indication& indication);

/// Whether this reading, taken where `expected` holds, proves that both probes touch the part: it is finite, not below
/// zero, and it cannot be fingers, or it is not above what the network has there (an element of 100 kohm).
bool proves_contact(const Indication& indication, const Expectation* expected);

/// The witness of a reading that needs one (an over-range, or an open that may be fingers): another reading of the same
/// placement, at another position or another time the knob came to this one, proves contact; failing that the
/// statement; else none. `all` may hold the reading itself.
Witness witness_of(const Measured& reading, const std::vector<Measured>& all, const std::vector<Expectation>& expected);

/// Whether a reading of the part shows that the tips did not touch each other and that the display moves: over-range, or
/// more than leads may have by more than U. Where none does, a contact closed and two tips that touch read the same, and so
/// does a display that stands still.
bool tips_seen_apart(const std::vector<Finding>& findings, const Leads& leads);

/// Why this reading with the probes held apart cannot be worked with, and what to do; nothing when it can.
std::optional<std::string> apart_objection(const Indication& apart);

}  // namespace switchwright
