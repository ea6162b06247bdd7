// Whole pages: one record, a claim that joins two, two records side by side.
#pragma once

#include <string>
#include <vector>

#include "report/html_parts.hpp"
#include "switchwright/report/exporter.hpp"

namespace switchwright {

std::string record_page(const Record& record, Medium medium, Paper paper);
/// Qualification and trace (or more) of one piece under one front page.
std::string claim_page(const std::vector<const Record*>& records, Medium medium, Paper paper);
std::string comparison_page(const Record& first, const Record& second, Medium medium, Paper paper);

/// Head of a page up to <body>, and its end. The footer of each sheet names serial number, record, verdict, chain head.
std::string page_head(const std::string& title, const std::vector<const Record*>& records, Medium medium, Paper paper);
std::string page_end(const Record& record, Medium medium);
/// Bands that must be seen before anything else: a broken chain, practice, simulation.
std::string warnings_html(const Record& record);
std::string signing_html(const std::vector<const Record*>& records);

}  // namespace switchwright
