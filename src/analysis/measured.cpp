#include "switchwright/analysis/measured.hpp"

#include <algorithm>
#include <map>
#include <set>

#include "switchwright/record/step_kind.hpp"

namespace switchwright {

std::vector<Measured> measured_in(const Record& record) {
  std::map<int, const StepRow*> steps;
  for (const StepRow& row : record.steps) steps[row.step] = &row;
  std::vector<Measured> measured;
  int placement = 0;
  bool moved =
      true;  // the probes were elsewhere in between: another pair, or the safety steps of another sitting
  std::set<std::string> read_here;
  for (const IndicationRow& row : record.indications) {
    const auto step = steps.find(row.step);
    if (step == steps.end() || step->second->kind != to_string(StepKind::measure)) {
      moved = true;
      continue;
    }
    const Pair pair{step->second->pair_first, step->second->pair_second};
    const std::string& position = step->second->position;
    // A position that is read again may be so because a probe slipped.
    if (moved || !(measured.back().pair == pair) || read_here.contains(position)) {
      ++placement;
      read_here.clear();
      moved = false;
    }
    read_here.insert(position);
    measured.push_back({position, pair, row.indication, placement, row.contact_stated});
  }
  // Contact is stated of a placement, at its last position.
  for (Measured& one : measured)
    one.contact_stated = std::any_of(measured.begin(), measured.end(), [&](const Measured& m) {
      return m.placement == one.placement && m.contact_stated;
    });
  return measured;
}

}  // namespace switchwright
