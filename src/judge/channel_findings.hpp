// What each channel of a trace should show at a position, and what its levels say that its timing does not: volts that
// are lost, a load that is never dead, another supply, a unit that is none.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "switchwright/judge/cycling.hpp"
#include "switchwright/profile/powered.hpp"

namespace switchwright::tracing {

/// Expanded uncertainty of a supply that is stated, or measured with an unknown meter (common practice, no source).
inline constexpr double unknown_supply_relative_U = 0.01;

/// What a point of the circuit should do.
enum class Should { cycle, live, dead, unknown };
std::string words(Should should);

/// A contact of the part cycles there.
bool cycles_at(const Profile& profile, const std::string& position);
/// The loads that the part is for: all but lamps.
std::vector<const PoweredLoad*> loads_of(const Profile& profile);
/// The load that a channel is on: the one whose name it has, or the only one. Null: not known.
const PoweredLoad* load_on(const Profile& profile, const CyclingChannel& channel);
/// @param load null: any load
Should load_should(const Profile& profile, const std::string& position, const PoweredLoad* load = nullptr);
Should pilot_should(const Profile& profile, const std::string& position);
/// What a live load has of the supply's volts: 1, or less where elements share them.
double share_of_supply(const Profile& profile, const std::string& position, const PoweredLoad* load);

/// The pilot: live, without an interruption, as long as the knob is on; dead when it is off.
/// @param shortest_s a gap shorter than this hides no interruption: no contact of the part stands for less.
ChannelFinding pilot_finding(const CyclingChannel& channel, Should should, double shortest_s, bool supply_seen);
/// A channel whose samples begin late or end early, while the record goes on: in that time it may have done anything.
/// @param at_most_s what is too short to matter
std::optional<ChannelFinding> unwatched(const CyclingChannel& channel, ChannelRole role, const Interval& record_s,
                                        double at_most_s);
ChannelFinding line_finding(const Profile& profile, const CyclingChannel& channel, DecisionRule rule);

/// Where a channel stands in the circuit, and the supply that it is compared with.
struct LevelCase {
  const Profile& profile;
  const std::string& position;
  const CyclingChannel& channel;
  ChannelRole role;
  std::optional<double> supply_v;
  double supply_relative_U = unknown_supply_relative_U;
  bool supply_stated = false;  ///< nobody measured it
  int line_channels = 0;
};
/// What the levels of a load or a pilot say.
std::vector<ChannelFinding> level_findings(const LevelCase& c);

/// A channel with a role in a unit that tells neither live nor dead.
std::optional<ChannelFinding> wrong_unit(const CyclingChannel& channel, ChannelRole role);
/// Where a part has several loads: those that no channel is on, and channels that are on nobody knows which.
std::vector<ChannelFinding> unseen_loads(const Profile& profile, const std::vector<CyclingChannel>& channels,
                                         const std::vector<ChannelRole>& roles);

}  // namespace switchwright::tracing
