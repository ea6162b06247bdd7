// Dwells that the record cuts off: the last one, the first one, and a contact that stands still. Their length is not
// known, only that it is at least what was seen; that is enough to know that a limit is broken.
#pragma once

#include <optional>
#include <string>

#include "judge/timing_figures.hpp"

namespace switchwright::timing {

/// How long the contact may stay closed and open, at the conditions of the record; infinite when not limited.
struct LongestDwells {
  double on_s;
  double off_s;
  double period_s;  ///< infinite when neither limited nor seen
};
/// @param seen figures so far; may be empty.
LongestDwells longest_dwells(const TimingLimits& limits, const AtRated& at_rated, const CycleFigures& seen);

/// What a dwell amounts to.
struct DwellFinding {
  Outcome outcome = Outcome::pass;
  std::optional<TimingFault> fault;  ///< with fail
  std::string sentence;              ///< empty: nothing to say
};
/// A contact that may have stood too long while no sample came is not proven to have cycled: undecided.
DwellFinding unseen_dwell(const CycleSummary& summary, const LongestDwells& longest);
/// The last dwell of a record that cycled before.
DwellFinding last_dwell(const CycleSummary& summary, const LongestDwells& longest, const TimingConditions& conditions);
/// The first dwell of a record that cycles afterwards: a cold start, or the time before the supply was switched on.
DwellFinding first_dwell(const CycleSummary& summary, const LongestDwells& longest, const TimingConditions& conditions);
/// A record without any switching at a position where it must cycle.
DwellFinding never_switched(const CycleSummary& summary, const LongestDwells& longest,
                            const TimingConditions& conditions);
/// A record at a position where it must stay as it is.
DwellFinding standing(const CycleSummary& summary, const TimingConditions& conditions);

}  // namespace switchwright::timing
