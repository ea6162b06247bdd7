// What can and what cannot be seen of a part without pulling its connectors.
#pragma once

#include "switchwright/explain/coverage.hpp"
#include "switchwright/judge/judge.hpp"

namespace switchwright {

/// Single faults of the part that some reading shows on the bench and none shows as it is wired, and the fewest connectors that,
/// once pulled, leave nothing hidden. @param profile wired (profile/wired.hpp)
HiddenByWiring hidden_by_wiring(const Profile& profile, const MeterDefinition& meter,
                                const JudgeSettings& settings = {});

/// One sentence for the person, before the work begins.
std::string hidden_words(const HiddenByWiring& hidden);

}  // namespace switchwright
