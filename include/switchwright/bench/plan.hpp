// The steps of a qualification, in order: acknowledge; prove the meter, prove the part dead, prove the meter again, in AC
// and in DC volts; look; leads, every pair at every position, leads. Nothing is touched before the part is proven dead.
// Under power: acknowledge, prove dead where this sitting has not, the bonds of exposed metal, switch on with the probes on
// the supply, pair by pair all positions with the supply off while probes move, the supply again, switch off, the bonds
// again.
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

/// The same for a part that was never connected, as one of many in a sitting: absence of voltage is acknowledged, not
/// measured; the meter is proven when this sitting has not proven it; leads that were read just now are not read again.
std::vector<Step> plan_in_sitting(const Profile& profile, const std::vector<Expectation>& expected,
                                  const std::vector<Placement>& route, const MeterDefinition& meter,
                                  bool meter_is_proven, bool leads_are_known);

/// The words that are acknowledged before work on parts that were never connected.
std::string never_connected_words();

/// One measuring step that was chosen as the work goes; contact is asked for at once when nothing witnesses it.
/// @param probes_on where the probes stand now: they are left there when the place is on the same pair
Step measure_step(const Profile& profile, const Expectation& expected, const std::optional<Pair>& probes_on);

/// The probes held apart, for a part that no reading shows open.
Step apart_step();

/// The words that are acknowledged before resistance work.
std::string de_energised_words();

/// The words that are acknowledged first for a part that stays wired.
std::string locked_off_words();

struct PoweredPlanSettings {
  int first_number = 1;
  bool live_moves = false;                           ///< probes move with the supply on
  RouteCost cost;                                    ///< of turning the knob, for the order of the positions
  const MeterDefinition* prove_dead_with = nullptr;  ///< absent: this sitting has proven the part dead already
};
/// The profile must have a [powered] part.
std::vector<Step> plan_powered(const Profile& profile, const std::vector<VoltageExpectation>& expected,
                               const PoweredPlanSettings& settings = {});

/// The words that are acknowledged before a part is energised.
std::string energised_words();

}  // namespace switchwright
