// The end of a qualification on the screen: the verdict in large letters, why, and what to do next.
#pragma once

#include <string>
#include <vector>

#include "cli/view/page.hpp"
#include "switchwright/bench/event.hpp"

namespace switchwright::cli {

struct VerdictScreen {
  VerdictReached reached;
  std::string head;               ///< part, serial number, profile, record
  std::string next_command;       ///< what can be typed next
  bool next_part_offered = false; ///< the key n
};

/// Fills the screen and waits. @returns true for the next part, false when the person is done (also by Ctrl-C or a closed
/// terminal). Leaves the whole verdict in words on the terminal.
bool show_verdict(const VerdictScreen& screen);

/// One line of the verdict's words: "critical  At off, ...".
struct VerdictLine {
  std::string label;  ///< "critical", "undecided", "note", "" for what continues
  std::string text;
  std::size_t level = 0;  ///< 1: said of the line before
};
/// Everything a person at the bench must know beside the headline, worst first.
std::vector<VerdictLine> verdict_lines(const Verdict& verdict);
/// The verdict in one word, in capitals.
std::string verdict_word(const Verdict& verdict);
/// The headline without the word that stands large beside it, with a capital.
std::string headline_beside_word(const Verdict& verdict);
/// SGR code of an outcome.
const char* paint_of(Outcome outcome);

}  // namespace switchwright::cli
