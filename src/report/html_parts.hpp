// The parts of the page that a record becomes. A screen shows everything and folds it; paper is a document of few pages, so
// it says each thing once and names where the rest lies.
#pragma once

#include <string>

#include "report/trace_view.hpp"
#include "report/view.hpp"

namespace switchwright {

enum class Medium { screen, paper };

/// A sentence of our own as HTML: escaped, units and signs as a page spells them.
std::string sentence_html(const std::string& text);
std::string upper_first(std::string text);
/// "L1-H1" with a dash.
std::string pair_html(const Pair& pair);
/// Name and value beside each other, on paper two beside two.
std::string facts_html(const std::vector<NamedFact>& facts, Medium medium);

// Sections, each with its heading; empty where there is nothing to say.
std::string verdict_box_html(const View& view);
std::string scope_html(const View& view, Medium medium);
/// On paper the first few; more_deviations_html() has the others.
std::string deviations_html(const View& view, Medium medium);
/// No deviation was found, said no stronger than the verdict is.
std::string nothing_deviates_html(const View& view);
std::string more_deviations_html(const View& view, Medium medium);
std::string explanations_html(const View& view, Medium medium);
/// What is undecided, not measured, left out, stated, inspected.
std::string open_points_html(const View& view, Medium medium);
std::string readings_html(const View& view, Medium medium);
std::string how_measured_html(const View& view, Medium medium);
std::string remarks_html(const View& view);

/// A trace read once for its whole report.
struct TraceParts {
  std::string deviations;  ///< list items, without a heading; empty when nothing deviates
  std::string body;
};
TraceParts trace_parts(const Record& record, Medium medium);

}  // namespace switchwright
