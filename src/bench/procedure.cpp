// What most procedures answer alike: how a step is dealt with follows from its kind.
#include "bench/procedure.hpp"

#include <algorithm>

namespace switchwright {

Procedure::Wants Procedure::wants(const Step& step) const {
  if (step.kind == StepKind::acknowledge) return Wants::acknowledgement;
  return step.kind == StepKind::inspect ? Wants::answer : Wants::reading;
}

std::string Procedure::cannot_skip(const Step& step) const {
  switch (step.kind) {
    case StepKind::inspect:
    case StepKind::measure:
    case StepKind::voltage:
    case StepKind::leads_before:
    case StepKind::leads_apart:
    case StepKind::leads_after:
    case StepKind::drop:
    case StepKind::drop_reversed: return {};
    default:
      return "This step cannot be skipped: the supply is read first and last, and it is switched off at the end.";
  }
}

SettleRule Procedure::settling_volts(const Step& step, const SettleRule& usual, double dead_v, double share) {
  SettleRule rule = usual;
  if (!is_voltage(step.arrangement.dial)) return rule;
  rule.floor_v = std::max(rule.floor_v, 0.1 * dead_v);
  rule.share_v = std::max(rule.share_v, share);
  return rule;
}

bool Procedure::contact_can_be_stated(const Step& step) const {
  return step.kind == StepKind::measure || step.kind == StepKind::drop || step.kind == StepKind::drop_reversed;
}

std::string Procedure::contact_words(const Step&) const {
  return "Open at every position: that is also what a probe off the metal looks like. Press c if both probes touch bare "
         "metal, p to place them again.";
}

bool Procedure::same_placement(const Step& a, const Step& b) const {
  return a.kind == b.kind && a.arrangement.pair == b.arrangement.pair;
}

}  // namespace switchwright
