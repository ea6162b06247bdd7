#include "switchwright/analysis/measured.hpp"

#include <algorithm>
#include <map>
#include <set>
#include <utility>

#include "switchwright/record/step_kind.hpp"

namespace switchwright {

namespace {

/// Counts placements that an older version did not write down.
class Concluded {
 public:
  void elsewhere() { moved_ = true; }
  int placement_of(const StepRow& step, int last) {
    const Pair pair{step.pair_first, step.pair_second};
    // A step that is read again, or a position without the knob turned in between, may be so because a probe slipped.
    if (moved_ || !(pair_ == pair) || position_ == step.position || read_here_.contains(step.step)) {
      placement_ = last + 1;
      read_here_.clear();
      moved_ = false;
    }
    read_here_.insert(step.step);
    pair_ = pair;
    position_ = step.position;
    return placement_;
  }

 private:
  bool moved_ = true;  ///< the probes were elsewhere in between: another pair, or the safety steps of another sitting
  int placement_ = 0;
  std::set<int> read_here_;  ///< steps
  Pair pair_;
  std::string position_;
};

}  // namespace

int last_placement(const Record& record) {
  int last = 0;
  for (const StepRow& row : record.steps) last = std::max(last, row.placement);
  for (const IndicationRow& row : record.indications) last = std::max(last, row.placement);
  for (const EventRow& row : record.events) last = std::max(last, row.placement);
  for (const Measured& measured : measured_in(record)) last = std::max(last, measured.placement);
  return last;
}

std::set<int> given_up_placements(const Record& record) {
  std::set<int> given_up;
  for (const EventRow& row : record.events)
    if (row.kind == reseated_event && row.placement > 0) given_up.insert(row.placement);
  return given_up;
}

std::vector<Measured> given_up_in(const Record& record) {
  std::map<int, const StepRow*> steps;
  for (const StepRow& row : record.steps) steps[row.step] = &row;
  std::vector<Measured> measured;
  const std::set<int> given_up = given_up_placements(record);
  for (const IndicationRow& row : record.indications) {
    const auto step = steps.find(row.step);
    if (!given_up.contains(row.placement) || step == steps.end() || step->second->kind != to_string(StepKind::measure))
      continue;
    const Pair pair{step->second->pair_first, step->second->pair_second};
    measured.push_back({step->second->position, pair, row.indication, row.placement, row.contact_stated, 0, true});
  }
  return measured;
}

std::vector<Measured> measured_in(const Record& record) {
  std::map<int, const StepRow*> steps;
  for (const StepRow& row : record.steps) steps[row.step] = &row;
  std::vector<Measured> measured;
  int placement = 0;
  Concluded concluded;
  const std::set<int> given_up = given_up_placements(record);
  std::map<std::pair<std::string, Pair>, std::vector<int>> visits;  // the steps that came to a place
  auto reseated = record.events.begin();
  // A probe slipped: what was read in this placement until then does not count.
  const auto forget_until = [&](Wall at) {
    for (; reseated != record.events.end() && reseated->at <= at; ++reseated)
      if (reseated->kind == reseated_event && reseated->placement == 0)
        std::erase_if(measured, [&](const Measured& m) {
          return m.placement == placement && m.indication.to.wall <= reseated->at;
        });
  };
  for (const IndicationRow& row : record.indications) {
    forget_until(row.indication.from.wall);
    const auto step = steps.find(row.step);
    if (step == steps.end() || step->second->kind != to_string(StepKind::measure)) {
      concluded.elsewhere();
      continue;
    }
    const Pair pair{step->second->pair_first, step->second->pair_second};
    const std::string& position = step->second->position;
    if (row.placement > 0)
      placement = row.placement;
    else
      placement = concluded.placement_of(*step->second, placement);
    if (given_up.contains(row.placement)) continue;
    std::vector<int>& here = visits[{position, pair}];
    auto visit = std::find(here.begin(), here.end(), row.step);
    if (visit == here.end()) visit = here.insert(here.end(), row.step);
    measured.push_back(
        {position, pair, row.indication, placement, row.contact_stated, static_cast<int>(visit - here.begin()) + 1});
  }
  forget_until(Wall::max());
  // Contact is stated of a placement, at its last position.
  for (Measured& one : measured)
    one.contact_stated = std::any_of(measured.begin(), measured.end(), [&](const Measured& m) {
      return m.placement == one.placement && m.contact_stated;
    });
  return measured;
}

Leads leads_in(const Record& record) {
  Leads leads{record.leads_before, record.leads_after};
  std::set<int> apart;
  for (const StepRow& row : record.steps)
    if (row.kind == to_string(StepKind::leads_apart)) apart.insert(row.step);
  for (const IndicationRow& row : record.indications)
    if (apart.contains(row.step)) leads.apart = row.indication;
  return leads;
}

}  // namespace switchwright
