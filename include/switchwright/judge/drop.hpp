// The millivolt drop across a closed contact under a known current: how a hand-held meter that cannot resolve milliohms
// still decides about them. R = U / I, with the uncertainty of both. The zero with the current off comes first and only
// the change counts: thermal voltages and the meter's own zero are taken out, and a current that does not flow changes
// nothing. Reversing the current takes thermal voltages out too (ASTM B539).
#pragma once

#include <optional>
#include <string>

#include "switchwright/judge/conformance.hpp"
#include "switchwright/judge/indication.hpp"
#include "switchwright/meter/definition.hpp"

namespace switchwright {

/// A direct current that a bench supply is set to, and what is known of it.
struct KnownCurrent {
  double amps = 0.0;
  double U_amps = 0.0;  ///< expanded, k = 2
};
/// Reads AMPS or AMPS@U: "1A", "1@0.01", "1A@1%". Without U, 1 % is taken. @throws Error(usage).
KnownCurrent parse_current(const std::string& text);

/// What is read at one contact: the zero with the current off, the drop with it on, and a second zero, or the drop with
/// the current turned round. DC volts as settled.
struct DropReadings {
  Indication zero;
  Indication on;
  std::optional<Indication> zero_after = std::nullopt;
  std::optional<Indication> reversed = std::nullopt;
  std::optional<double> shown_a =
      std::nullopt;  ///< what the display of the supply shows while the current is on; absent: nobody read it
  std::optional<double> shown_free_a =
      std::nullopt;  ///< what it shows with one clip hanging free, where nothing can flow
};

struct DropLimits {
  double sound_ohm = 0.0;   ///< at most so much is sound
  double closed_ohm = 0.0;  ///< more than this is no closed contact: the voltage is that of a supply in an open circuit
};

/// What the change of the voltage says.
enum class DropState {
  seen,              ///< a current flowed and its drop was read
  no_current,        ///< nothing changed when the current was switched on: none flowed, or too little for this meter
  not_zero,          ///< with the current off there was more than a thermal voltage: it was not off
  one_way,           ///< turned round, the current was another one, or the same way round
  other_current,     ///< the supply shows another current than the stated one
  current_not_read,  ///< nobody has read what flows: a stated current is none
  shows_setting,     ///< the display shows a current also where none can flow: it shows what is set
  open,              ///< more than a closed contact can have at this current
  beyond,            ///< beyond the meter's range, which does not reach that far
};
std::string to_string(DropState state);

struct Drop {
  DropState state = DropState::no_current;
  double drop_v = 0.0;              ///< magnitude of the change that the current makes
  double U_drop_v = 0.0;            ///< of the meter in both readings, and of the zero's drift; k = 2
  double ohm = 0.0;                 ///< open: at least so much
  double u_ohm = 0.0;               ///< combined standard uncertainty (JCGM 100)
  double U_ohm = 0.0;               ///< k = 2
  double zero_v = 0.0;              ///< with the current off: thermal voltage and the meter's own zero
  std::optional<double> drift_v;    ///< by how much the zero moved between before and after
  std::optional<double> thermal_v;  ///< known only with the current reversed
  double spot_c = 0.0;              ///< at most, at this current (Holm), contact body at 20 degC
  Outcome outcome = Outcome::undecided;
  std::string sentence;
};

/// Judges a contact by the change that a known current makes. Only a change that the meter can tell from no change, and
/// from the drift of the zero, is a drop: what stands there with the current off as well is no current's doing.
/// @throws Error(usage) when a reading is no voltage, a zero is none in range, or the current is not above 0.
Drop judge_drop(const std::string& contact, const DropReadings& readings, const KnownCurrent& current,
                const DropLimits& limits, const MeterDefinition& meter, DecisionRule rule = DecisionRule::guarded);

/// Whether a display that shows so much with one clip free can be believed to show what flows.
bool follows_current(double shown_free_a, const KnownCurrent& current);

/// With the current off a thermal voltage is all that may stand there, V.
bool is_zero(const Indication& zero, const MeterDefinition& meter);

/// The smallest change near 0 V that this meter can tell from none, V: the U of two readings.
double least_change_v(const MeterDefinition& meter);

/// The least current, to two figures and rounded up, with which this meter can still find a contact of half the limit
/// sound; absent where the accuracy of DC volts is not known. What the current itself is uncertain by is left aside.
std::optional<double> least_current_a(const MeterDefinition& meter, double limit_ohm);

}  // namespace switchwright
