// What a meter should read between two points under power, derived from the same network with the supply as
// an ideal source and the loads wired as the profile's [powered] part says.
//
// Bounds. The share of the source that lies between two points is a fraction of two polynomials, each linear
// in every single resistor, and the denominator is never 0; so it rises or falls with each resistor alone,
// whatever the others are, and over a box of tolerances its extremes are at corners. (It need not rise with
// all of them: unlike a resistance, a voltage has no single worst corner.) All corners are solved, which is
// exact; with more than twelve parts nothing is solved and nothing is known: the pair is undecided. The
// supply's own range scales the result.
//
// Leakage. Cold, an open contact passes from open_min_ohm on, so under power it may leak as much: every open
// contact is a part of its own, from open_min_ohm to no connection at all. A point that nothing else joins to
// the supply is read through the meter's own input, see stray_max_v.
#pragma once

#include <map>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "switchwright/core/interval.hpp"
#include "switchwright/core/pair.hpp"
#include "switchwright/profile/expectation.hpp"
#include "switchwright/profile/fault.hpp"
#include "switchwright/profile/profile.hpp"

namespace switchwright {

enum class VoltageState {
  live,         ///< more than dead_max_v whatever the parts within their limits
  dead,         ///< nothing but the drop of sound contacts and the leakage of good open ones
  cycles,       ///< one or the other, as a contact opens and closes: see VoltageExpectation::bands
  divided,      ///< could be above or below dead_max_v within the limits
  not_checked,  ///< a point floats, or the profile leaves the pair out
  unsolved,     ///< more parts than are solved: what it must be is not known, so it is never decided
};
/// "live", "dead", "cycles", "divided", "not-checked", "unsolved"
std::string to_string(VoltageState state);

/// The alternating input resistance of a meter whose definition does not state it: common practice, no source,
/// is 10 Mohm within a tenth for a hand-held meter and 1 Mohm for one that stands on the bench.
inline constexpr Interval usual_input_ohm{1e6, 11e6};

struct VoltageExpectation {
  std::string position;
  Pair pair;
  VoltageState state = VoltageState::not_checked;
  Interval v{0.0, 0.0};  ///< magnitude in volts; spans all bands
  /// One, or with a cycling contact one for each of its states (floating in one of them included); merged where they
  /// meet.
  std::vector<Interval> bands;
  std::optional<double> nominal_v;  ///< contacts 0 ohm, all else nominal, cycling contacts closed
  bool live_is_critical = false;    ///< dead, and live would mean the load or exposed metal is live
  /// Where a point floats (in every state, or in one of a cycling contact): what a good part shows at most at the nominal
  /// supply, leakage as allowed cold, read with the usual meter that loads it most. No more than this passes.
  std::optional<double> stray_max_v;
  double join_v = 0.0;    ///< with stray_max_v: what a bare join to the supply would show at the nominal supply
  double leak_ohm = 0.0;  ///< with stray_max_v: the least that cold work allows between the point and the supply
  /// Between two ends of the supply, or one of them and bonded metal: says something about the supply, nothing about the
  /// part.
  bool of_the_supply = false;
  std::string reason;  ///< for not_checked and unsolved
};

/// What a leak of `leak_ohm` shows on a meter of this input where a bare join shows `join_v`.
double leak_shows_v(double join_v, double leak_ohm, double input_ohm);

/// The points of the powered circuit: Profile::nodes(), then the outside points.
std::vector<std::string> powered_nodes(const Profile& profile);
/// Where probes can be put on the bench: powered_nodes() and, where metal is bonded, the supply's earth.
std::vector<std::string> bench_points(const Profile& profile);
/// Exposed metal that the bench bonds to earth; empty where [powered] names no earth.
std::vector<std::string> bonded_metal(const Profile& profile);
/// Every position and pair of points. @throws Error(usage) when the profile has no [powered] part.
std::vector<VoltageExpectation> voltage_expectations(const Profile& profile);

/// A meter can say something about the pair: it is not left out, and a point that floats may at least not be live.
bool can_be_read(const VoltageExpectation& expected);

/// One concrete switch under power, for whoever stands in for the outside world. A lamp with a striking voltage is lit
/// where the volts across it, dark, are at least the middle of its limits.
/// Thread rule: one owner, one thread.
class PoweredSwitch {
 public:
  /// @param opened cycling contacts that are open just now. @throws Error(usage) without a [powered] part.
  PoweredSwitch(const Profile& profile, const std::string& position, const PartValues& values,
                const std::vector<Fault>& faults = {}, const std::vector<std::string>& opened = {});
  /// Magnitude of the voltage between two points with `supply_v` volts on the supply; absent where one of
  /// them floats, and everywhere when the switch shorts the supply.
  std::optional<double> volts(const std::string& a, const std::string& b, double supply_v) const;
  /// The switch joins the two supply points directly: whatever protects the supply opens.
  bool shorts_the_supply() const { return dark().shorted; }

 private:
  struct Solution {
    Network network;
    std::map<std::string, double> shares;
    bool shorted = false;
  };
  using Lit = std::vector<std::string>;  ///< lamps that have struck

  const Solution& solution(const Lit& lit) const;
  const Solution& dark() const { return solution({}); }
  Lit lit_at(double supply_v) const;

  Profile profile_;
  std::string position_;
  PartValues values_;
  std::vector<Fault> faults_;
  std::vector<std::string> opened_;
  mutable std::map<Lit, Solution> solved_;
};

/// Voltage range for a named standard and nominal voltage: "ansi-c84.1-a", "ansi-c84.1-b" (service voltage,
/// ranges A and B; 120, 208, 240 and 480 V), "iec-60038" (supply terminals, nominal -10 % to +10 %). Nothing
/// when the standard or its nominal voltage is not known.
std::optional<Interval> supply_range(const std::string& standard, double nominal_v);
/// Of a part whose profile says nothing about its supply: as range A of ANSI C84.1 has it for such a voltage.
Interval supply_range_of_rating(double rated_v);
std::vector<std::string> supply_standards();

}  // namespace switchwright
