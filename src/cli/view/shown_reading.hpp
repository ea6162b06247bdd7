// One figure for one reading: what the screen, the lines and the sentences call it.
#pragma once

#include <string>

#include "switchwright/bench/event.hpp"

namespace switchwright::cli {

/// What the meter's own display shows: "0.1 ohm", "open (over-range)".
std::string display_words(const Reading& reading);
/// A settled reading as it is judged, the leads taken off: "0.0 ohm". The same figure stands in the finding's sentence.
std::string judged_words(const Settled& settled);
/// "the meter shows 0.1 ohm, 0.1 ohm of it in the leads"; empty where both figures are the same.
std::string difference_words(const Settled& settled);
/// A kept indication, corrected where it is judged.
std::string kept_words(const Indication& indication, const std::optional<double>& corrected);
/// The sentence to show under a settled reading; empty when there is none.
std::string outlook_words(const Settled& settled);
/// "32" good, "1;31" fails, "33" undecided.
const char* outlook_paint(const Settled& settled);

}  // namespace switchwright::cli
