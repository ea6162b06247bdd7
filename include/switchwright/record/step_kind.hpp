// What the steps of a session are called, in records and JSON. These words are on disk: do not change them.
#pragma once

#include <string>

namespace switchwright {

/// What a step is for.
enum class StepKind {
  acknowledge,        ///< the operator states that the part is de-energised
  inspect,            ///< a visual question
  prove_meter,        ///< the meter shows a known live source
  absence,            ///< no voltage between two terminals
  prove_meter_again,  ///< and the meter still shows the source
  leads_before,       ///< probes shorted
  measure,            ///< a pair at a position
  leads_apart,        ///< probes touching nothing, where no other reading can be open
  leads_after,
  supply_on,        ///< the supply is switched on, probes on it
  voltage,          ///< a pair at a position, under power
  supply_at_end,    ///< the supply once more
  supply_off,       ///< the supply is switched off, probes still on it
  placed_dead,      ///< probes on the next pair, the supply still off: no voltage there
  bond,             ///< exposed metal to the supply's earth in ohms, supply off
  bond_at_end,      ///< the same once more
  drop,             ///< volts across a closed contact under a known direct current
  drop_reversed,    ///< the same with the current the other way round
  drop_zero,        ///< the same pair before, with the current off
  drop_zero_after,  ///< and once more with the current off
  drop_current,     ///< what the supply's own display, or an ammeter in series, shows while the current flows
  drop_no_current,  ///< what it shows while nothing can flow
};
/// "acknowledge", "inspect", "prove-meter", "absence-of-voltage", "prove-meter-again", "leads-before", "measure",
/// "leads-apart", "leads-after", "supply-on", "voltage", "supply-at-end", "supply-off", "placed-dead", "bond", "bond-at-end", "drop",
/// "drop-reversed", "drop-zero", "drop-zero-after", "drop-current", "drop-no-current": the spelling of records and JSON.
std::string to_string(StepKind kind);
/// Of the millivolt drop.
bool is_drop(StepKind kind);

}  // namespace switchwright
