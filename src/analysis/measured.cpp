#include "switchwright/analysis/measured.hpp"

#include <algorithm>
#include <map>
#include <set>
#include <utility>

#include "switchwright/record/step_kind.hpp"

namespace switchwright {

std::vector<Measured> measured_in(const Record& record) {
  std::map<int, const StepRow*> steps;
  for (const StepRow& row : record.steps) steps[row.step] = &row;
  std::vector<Measured> measured;
  int placement = 0;
  bool moved = true;  // the probes were elsewhere in between: another pair, or the safety steps of another sitting
  std::set<int> read_here;  // steps
  std::map<std::pair<std::string, Pair>, std::vector<int>> visits;  // the steps that came to a place
  auto reseated = record.events.begin();
  // A probe slipped: what was read in this placement until then does not count.
  const auto forget_until = [&](Wall at) {
    for (; reseated != record.events.end() && reseated->at <= at; ++reseated)
      if (reseated->kind == reseated_event)
        std::erase_if(measured, [&](const Measured& m) {
          return m.placement == placement && m.indication.to.wall <= reseated->at;
        });
  };
  for (const IndicationRow& row : record.indications) {
    forget_until(row.indication.from.wall);
    const auto step = steps.find(row.step);
    if (step == steps.end() || step->second->kind != to_string(StepKind::measure)) {
      moved = true;
      continue;
    }
    const Pair pair{step->second->pair_first, step->second->pair_second};
    const std::string& position = step->second->position;
    // A step that is read again, or a position without the knob turned in between, may be so because a probe slipped.
    if (moved || measured.empty() || !(measured.back().pair == pair) || measured.back().position == position ||
        read_here.contains(row.step)) {
      ++placement;
      read_here.clear();
      moved = false;
    }
    read_here.insert(row.step);
    std::vector<int>& here = visits[{position, pair}];
    auto visit = std::find(here.begin(), here.end(), row.step);
    if (visit == here.end()) visit = here.insert(here.end(), row.step);
    measured.push_back({position, pair, row.indication, placement, row.contact_stated,
                        static_cast<int>(visit - here.begin()) + 1});
  }
  forget_until(Wall::max());
  // Contact is stated of a placement, at its last position.
  for (Measured& one : measured)
    one.contact_stated = std::any_of(measured.begin(), measured.end(), [&](const Measured& m) {
      return m.placement == one.placement && m.contact_stated;
    });
  return measured;
}

}  // namespace switchwright
