#include <iterator>
#include <utility>

#include "switchwright/record/record.hpp"

namespace switchwright {

namespace {

template <typename Rows>
void move_after(Rows& rows, Rows& later) {
  rows.insert(rows.end(), std::make_move_iterator(later.begin()), std::make_move_iterator(later.end()));
}

template <typename Value>
void replace_by(std::optional<Value>& value, std::optional<Value>& later) {
  if (later) value = std::move(later);
}

}  // namespace

bool Batch::empty() const {
  return steps.empty() && readings.empty() && indications.empty() && events.empty() && acknowledgements.empty() &&
         stated.empty() && !leads_before && !leads_after && !verdict && !ended && !trace && channels.empty() &&
         samples.empty() && results.empty() && !lot && lot_units.empty() && bench_checks.empty() &&
         lot_decisions.empty();
}

void Batch::add(Batch later) {
  move_after(steps, later.steps);
  move_after(readings, later.readings);
  move_after(indications, later.indications);
  move_after(events, later.events);
  move_after(acknowledgements, later.acknowledgements);
  move_after(stated, later.stated);
  move_after(channels, later.channels);
  move_after(samples, later.samples);
  move_after(results, later.results);
  move_after(lot_units, later.lot_units);
  move_after(bench_checks, later.bench_checks);
  move_after(lot_decisions, later.lot_decisions);
  replace_by(lot, later.lot);
  replace_by(leads_before, later.leads_before);
  replace_by(leads_after, later.leads_after);
  replace_by(verdict, later.verdict);
  replace_by(ended, later.ended);
  replace_by(trace, later.trace);
}

}  // namespace switchwright
