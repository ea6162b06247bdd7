// The first sheet of a document: what a desk must know stands on it whole, so what is put there is chosen by how high it gets.
#pragma once

#include <string>
#include <vector>

#include "report/medium.hpp"
#include "report/view.hpp"
#include "switchwright/report/exporter.hpp"

namespace switchwright {

struct FrontPage {
  Medium medium;           ///< how long its texts may be
  std::size_t deviations;  ///< how many of them stand there
  double schematic_mm;     ///< height
};

/// What the record is of, as the first page says it: of many channels the first.
std::vector<NamedFact> front_facts(const View& view, Medium medium);

/// The fullest front page that surely fits, however long the texts of the record are: estimated from the widths of letters,
/// on the safe side. @param deviations_by_level list items, as each level of paper words them
FrontPage front_page(const View& view, const std::vector<std::vector<std::string>>& deviations_by_level, Medium medium,
                     Paper paper);

}  // namespace switchwright
