// The end of a qualification on the screen: the verdict in large letters, why, and what to do next.
#pragma once

#include <string>
#include <vector>

#include "cli/view/page.hpp"
#include "switchwright/bench/event.hpp"

namespace switchwright::cli {

struct VerdictScreen {
  VerdictReached reached;
  std::string head;                ///< part, serial number, profile, record
  std::string next_command;        ///< what can be typed next
  bool next_part_offered = false;  ///< the key n
};

/// Fills the screen and waits. @returns true for the next part, false when the person is done (also by Ctrl-C or a closed
/// terminal). Leaves the whole verdict in words on the terminal.
bool show_verdict(const VerdictScreen& screen);

/// SGR code of an outcome.
const char* paint_of(Outcome outcome);

}  // namespace switchwright::cli
