// What a meter that cannot be trusted to its specification leaves of a judgement.
#pragma once

#include "switchwright/judge/finding.hpp"
#include "switchwright/meter/definition.hpp"

namespace switchwright {

/// A low battery, or a definition without accuracy for such a reading: its U is not known, so nothing passes by it, and
/// nothing fails by it that is not ten times beyond its limit (a welded contact, an open one). To be called last.
void withhold_what_is_unproven(Finding& finding, const MeterDefinition& meter);
/// The same for a voltage.
void withhold_what_is_unproven(VoltageFinding& finding, const MeterDefinition& meter);

}  // namespace switchwright
