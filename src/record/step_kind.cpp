#include "switchwright/record/step_kind.hpp"

namespace switchwright {

std::string to_string(StepKind kind) {
  switch (kind) {
    case StepKind::acknowledge: return "acknowledge";
    case StepKind::inspect: return "inspect";
    case StepKind::prove_meter: return "prove-meter";
    case StepKind::absence: return "absence-of-voltage";
    case StepKind::prove_meter_again: return "prove-meter-again";
    case StepKind::leads_before: return "leads-before";
    case StepKind::measure: return "measure";
    case StepKind::leads_apart: return "leads-apart";
    case StepKind::leads_after: return "leads-after";
    case StepKind::supply_on: return "supply-on";
    case StepKind::voltage: return "voltage";
    case StepKind::supply_at_end: return "supply-at-end";
    case StepKind::supply_off: return "supply-off";
    case StepKind::placed_dead: return "placed-dead";
    case StepKind::bond: return "bond";
    case StepKind::bond_at_end: return "bond-at-end";
    case StepKind::drop: return "drop";
    case StepKind::drop_reversed: return "drop-reversed";
    case StepKind::drop_zero: return "drop-zero";
    case StepKind::drop_zero_after: return "drop-zero-after";
    case StepKind::drop_current: return "drop-current";
    case StepKind::drop_no_current: return "drop-no-current";
  }
  return "measure";
}

bool is_drop(StepKind kind) {
  switch (kind) {
    case StepKind::drop:
    case StepKind::drop_reversed:
    case StepKind::drop_zero:
    case StepKind::drop_zero_after:
    case StepKind::drop_current:
    case StepKind::drop_no_current: return true;
    default: return false;
  }
}

}  // namespace switchwright
