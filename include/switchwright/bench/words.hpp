// What is said to a person about a running session, the same words in a terminal and on the bench page.
#pragma once

#include <cstddef>
#include <string>
#include <vector>

#include "switchwright/bench/event.hpp"

namespace switchwright {

/// What the meter shows.
std::string display_words(const Reading& reading);
/// What is kept of it, leads taken off where they are known.
std::string kept_words(const Indication& indication, const std::optional<double>& corrected);
/// The figure that is judged.
std::string judged_words(const Settled& settled);
/// Why that is not what the meter shows; empty when it is.
std::string difference_words(const Settled& settled);
/// What would be found if it were confirmed, in one sentence; may be empty.
std::string outlook_words(const Settled& settled);
/// How that sentence is meant: an open that a position to come will witness is as it should be.
Outcome outlook_outcome(const Settled& settled);
/// What is asked of a person when a settled reading proves nothing by itself.
std::string contact_question(const Step& step);

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
/// A pass for something is never shown as a bare one: "PASS" over "FOR CONTINUITY" over "SOUNDNESS NOT DECIDED".
std::vector<std::string> verdict_letters(const Verdict& verdict);
/// The headline without the word that stands large beside it, with a capital.
std::string headline_beside_word(const Verdict& verdict);

}  // namespace switchwright
