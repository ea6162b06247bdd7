// The operating characteristic of a sampling plan as a picture: how often a lot is accepted, what leaves the house, what it costs.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "switchwright/lot/operating_characteristic.hpp"

namespace switchwright {

struct OcPicture {
  std::string title;
  std::vector<OcPoint> process;  ///< from 0 on
  std::vector<OcPoint> of_lot;   ///< one for each whole number of defective units; may be empty
  bool defects = false;          ///< defects per hundred units instead of percent defective
  double aql_p = 0.0;
  std::optional<double> producers_p;  ///< accepted with 95 %
  std::optional<double> consumers_p;  ///< accepted with 10 %
  OutgoingLimit outgoing;
  bool acceptance_only = false;  ///< a low picture of the first curve, for a page that says the rest in figures
};

/// A whole SVG document, 960 units wide, readable on light and dark ground.
std::string oc_picture_svg(const OcPicture& picture);

}  // namespace switchwright
