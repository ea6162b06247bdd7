// What a meter should read between two points under power, derived from the same network with the supply as
// an ideal source and the loads wired as the profile's [powered] part says.
//
// Bounds. The share of the source that lies between two points is a fraction of two polynomials, each linear
// in every single resistor, and the denominator is never 0; so it rises or falls with each resistor alone,
// whatever the others are, and over a box of tolerances its extremes are at corners. (It need not rise with
// all of them: unlike a resistance, a voltage has no single worst corner.) All corners are solved, which is
// exact; above twelve parts with a tolerance the bound is the whole supply, which is safe. The supply's own
// range scales the result.
#pragma once

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
  dead,         ///< not more than dead_max_v but for the drop of sound contacts
  cycles,       ///< one or the other, as a contact opens and closes: see VoltageExpectation::bands
  divided,      ///< could be above or below dead_max_v within the limits
  not_checked,  ///< a point floats, or the profile leaves the pair out
};
std::string to_string(VoltageState state);  ///< "live", "dead", "cycles", "divided", "not-checked"

struct VoltageExpectation {
  std::string position;
  Pair pair;
  VoltageState state = VoltageState::not_checked;
  Interval v{0.0, 0.0};  ///< magnitude in volts; spans all bands
  std::vector<Interval>
      bands;  ///< one, or with a cycling contact one for each of its states; merged where they meet
  std::optional<double> nominal_v;  ///< contacts 0 ohm, all else nominal, cycling contacts closed
  bool live_is_critical = false;    ///< dead, and live would mean the load or exposed metal is live
  /// For not_checked because a point floats: more than this is no stray reading any more, something joins the
  /// point to the supply. A quarter of the nominal supply: half of what the nearest leg stands from an earthed
  /// midpoint, and far above what stray capacitance gives on short bench leads (common practice, no source).
  std::optional<double> stray_max_v;
  std::string reason;               ///< for not_checked
};

/// The points of the powered circuit: Profile::nodes(), then the outside points.
std::vector<std::string> powered_nodes(const Profile& profile);
/// Every position and pair of points. @throws Error(usage) when the profile has no [powered] part.
std::vector<VoltageExpectation> voltage_expectations(const Profile& profile);

/// A meter can say something about the pair: it is not left out, and a point that floats may at least not be live.
bool can_be_read(const VoltageExpectation& expected);

/// One concrete switch under power, for whoever stands in for the outside world.
class PoweredSwitch {
 public:
  /// @param opened cycling contacts that are open just now. @throws Error(usage) without a [powered] part.
  PoweredSwitch(const Profile& profile, const std::string& position, const PartValues& values,
                const std::vector<Fault>& faults = {}, const std::vector<std::string>& opened = {});
  /// Magnitude of the voltage between two points with `supply_v` volts on the supply; absent where one of
  /// them floats, and everywhere when the switch shorts the supply.
  std::optional<double> volts(const std::string& a, const std::string& b, double supply_v) const;
  /// The switch joins the two supply points directly: whatever protects the supply opens.
  bool shorts_the_supply() const { return shorted_; }

 private:
  const Powered* powered_;
  std::vector<std::string> exposed_metal_;
  Network network_;
  std::map<std::string, double> shares_;
  bool shorted_ = false;
};

/// Voltage range for a named standard and nominal voltage: "ansi-c84.1-a", "ansi-c84.1-b" (service voltage,
/// ranges A and B; 120, 208, 240 and 480 V), "iec-60038" (supply terminals, nominal -10 % to +10 %). Nothing
/// when the standard or its nominal voltage is not known.
std::optional<Interval> supply_range(const std::string& standard, double nominal_v);
std::vector<std::string> supply_standards();

}  // namespace switchwright
