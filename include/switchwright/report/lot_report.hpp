// A lot as a document: the decision, the counts and the statistics on two pages, the units in an appendix.
#pragma once

#include <string>
#include <vector>

#include "switchwright/analysis/lot_course.hpp"
#include "switchwright/analysis/lot_values.hpp"

namespace switchwright {

/// A lot of the same part and supplier, for the course of the mode.
struct LotOfSupplier {
  std::string lot_number;
  std::string mode;      ///< "normal", "tightened", "reduced"
  std::string decision;  ///< empty: open
  int sample = 0;
  int defective = 0;
};

struct LotDocument {
  Record lot;
  LotCourse course;
  std::vector<std::string> faults;  ///< of unit records; the decision is hold then
  LotValues values;
  std::vector<LotOfSupplier> history;  ///< oldest first, this lot with them
  std::string next_mode;
  std::string next_reason;
  std::string sitting_rule;
};

std::string lot_html(const LotDocument& document);
std::string lot_pdf(const LotDocument& document);
/// The units, one a line (RFC 4180).
std::string lot_csv(const LotDocument& document);

/// The course of the mode from lot to lot, a whole SVG element.
std::string mode_picture(const std::vector<LotOfSupplier>& history);

}  // namespace switchwright
