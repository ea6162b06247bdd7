// The millivolt drop across a closed contact under a known current: how a hand-held meter that cannot resolve milliohms
// still decides about them. R = U / I, with the uncertainty of both; reversing the current takes out thermal voltages
// (ASTM B539).
#pragma once

#include <optional>
#include <string>

#include "switchwright/meter/definition.hpp"
#include "switchwright/judge/conformance.hpp"
#include "switchwright/judge/indication.hpp"

namespace switchwright {

/// A direct current that a bench supply is set to, and what is known of it.
struct KnownCurrent {
  double amps = 0.0;
  double U_amps = 0.0;  ///< expanded, k = 2
};
/// Reads AMPS or AMPS@U: "1A", "1@0.01", "1A@1%". Without U, 1 % is taken. @throws Error(usage).
KnownCurrent parse_current(const std::string& text);

struct Drop {
  double drop_v = 0.0;  ///< magnitude, thermal voltage taken out where the current was reversed
  double U_drop_v = 0.0;  ///< of the meter alone, k = 2
  double ohm = 0.0;
  double u_ohm = 0.0;  ///< combined standard uncertainty (JCGM 100)
  double U_ohm = 0.0;  ///< k = 2
  std::optional<double> thermal_v;  ///< known only with the current reversed
  double spot_c = 0.0;              ///< at most, at this current (Holm), contact body at 20 degC
  Outcome outcome = Outcome::undecided;
  std::string sentence;
  /// The meter sees a voltage at all. If not, nothing but the supply's own display says that a current flows.
  bool above_zero() const { return drop_v > U_drop_v; }
};

/// Judges a contact by its drop in one direction, or in both. `limit_ohm` is what a sound contact has at most.
/// @param indication, @param reversed DC volts as settled; @throws Error(usage) when one is no finite voltage or the
/// current is not above 0.
Drop judge_drop(const std::string& contact, const Indication& indication, const std::optional<Indication>& reversed,
                const KnownCurrent& current, double limit_ohm, const MeterDefinition& meter,
                DecisionRule rule = DecisionRule::guarded);

/// The least current, to two figures and rounded up, with which this meter can still find a contact of half the limit
/// sound; absent where the accuracy of DC volts is not known. What the current itself is uncertain by is left aside.
std::optional<double> least_current_a(const MeterDefinition& meter, double limit_ohm);

}  // namespace switchwright
