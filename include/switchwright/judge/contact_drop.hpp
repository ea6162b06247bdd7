// The millivolt drop of one contact as work at the bench: what was to be measured, and what came of it.
#pragma once

#include <optional>
#include <string>

#include "switchwright/core/pair.hpp"
#include "switchwright/judge/drop.hpp"

namespace switchwright {

struct DropTask {
  KnownCurrent current;
  std::string position;  ///< where the contacts are closed
  /// Each contact also with the current the other way round: a thermal voltage that comes with the current is seen.
  bool reversed = false;
};

/// One contact's drop, judged against what a sound contact has at most.
struct ContactDrop {
  std::string contact;
  std::string position;
  Pair pair;
  KnownCurrent current;
  double limit_ohm = 0.0;
  std::optional<double> shown_a;       ///< what the display of the supply, or an ammeter in series, showed
  std::optional<double> shown_free_a;  ///< what it showed with one clip hanging free
  double rated_a = 0.0;                ///< what this contact is made to carry
  double heat_w = 0.0;                 ///< in the contact, when it carries that (judge/contact_heat.hpp)
  Drop drop;
};

}  // namespace switchwright
