// The parts of the page that a record becomes. A screen shows everything and folds it; paper is a document of few pages, so
// it says each thing once and names where the rest lies.
#pragma once

#include <string>
#include <vector>

#include "report/medium.hpp"
#include "report/trace_view.hpp"
#include "report/view.hpp"

namespace switchwright {

/// A sentence of our own as HTML: escaped, units and signs as a page spells them.
std::string sentence_html(const std::string& text);
std::string upper_first(std::string text);
/// "And 7 more ..., in NAME of the bag."; empty for none.
std::string and_more(std::size_t count, const char* what, const char* where);
/// "L1-H1" with a dash.
std::string pair_html(const Pair& pair);
/// A fact's value; on paper only a serial number of more than 320 characters is cut, other texts as there is room.
std::string fact_told(const NamedFact& fact, Medium medium);
/// Name and value beside each other, on paper two beside two.
std::string facts_html(const std::vector<NamedFact>& facts, Medium medium);

// Sections, each with its heading; empty where there is nothing to say.
std::string verdict_box_html(const View& view, Medium medium);
/// Why a part of the scope stands as it does, and how to decide it.
std::string scope_told(const ScopeRow& row, Medium medium);
std::string scope_html(const View& view, Medium medium);
/// What deviates, worst first, each a list item.
std::vector<std::string> deviation_items(const View& view, Medium medium);
/// @param most how many on this page; more_deviations_html() has the others.
std::string deviations_html(const View& view, const std::vector<std::string>& items, Medium medium, std::size_t most);
/// No deviation was found, said no stronger than the verdict is.
std::string nothing_deviates_html(const View& view);
/// The list alone, and how many follow.
std::string deviation_list_html(const std::vector<std::string>& items, std::size_t most);
std::string more_deviations_html(const std::vector<std::string>& items, Medium medium, std::size_t shown);
std::string explanations_html(const View& view, Medium medium);
/// What is undecided, not measured, left out, stated, inspected.
std::string open_points_html(const View& view, Medium medium);
std::string readings_html(const View& view, Medium medium);
std::string how_measured_html(const View& view, Medium medium);
std::string remarks_html(const View& view, Medium medium);

/// A trace read once for its whole report.
struct TraceParts {
  std::vector<std::string> deviations;  ///< list items
  std::string body;
};
TraceParts trace_parts(const Record& record, Medium medium);

}  // namespace switchwright
