// The steps of a qualification, in order: acknowledge; prove the meter, prove the part dead, prove the meter again, in AC
// and in DC volts; look; leads, every pair at every position, leads. Nothing is touched before the part is proven dead. Under power: acknowledge, switch on with the probes on the supply,
// every pair at every position with the knob turned as little as can be, the supply again, switch off.
#pragma once

#include <optional>
#include <vector>

#include "switchwright/bench/event.hpp"
#include "switchwright/meter/definition.hpp"
#include "switchwright/profile/expectation.hpp"
#include "switchwright/profile/powered.hpp"
#include "switchwright/profile/profile.hpp"
#include "switchwright/profile/route.hpp"

namespace switchwright {

/// @param meter says in which functions absence of voltage can be tested
std::vector<Step> plan_qualification(const Profile& profile, const std::vector<Expectation>& expected,
                                     const std::vector<Placement>& route, const MeterDefinition& meter);

/// One measuring step that was chosen as the work goes; contact is asked for at once when nothing witnesses it.
/// @param probes_on where the probes stand now: they are left there when the place is on the same pair
Step measure_step(const Profile& profile, const Expectation& expected, const std::optional<Pair>& probes_on);

/// The words that are acknowledged before resistance work.
std::string de_energised_words();

/// Step numbers count from `first_number`. @throws Error(usage) without a [powered] part.
std::vector<Step> plan_powered(const Profile& profile, const std::vector<VoltageExpectation>& expected, int first_number = 1);

/// The words that are acknowledged before a part is energised.
std::string energised_words();

}  // namespace switchwright
