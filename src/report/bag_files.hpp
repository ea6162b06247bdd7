// What lies in a bag of one record, made from its chain alone: written when it is sealed, made once more when it is
// checked.
#pragma once

#include <map>
#include <string>
#include <utility>
#include <vector>

#include "switchwright/record/record.hpp"

namespace switchwright {

/// Path in the bag to content; sorted, so that two bags of one record have the same manifest.
using BagFiles = std::map<std::string, std::string>;

/// Everything under data/.
BagFiles bag_payload(const Record& record, const std::vector<std::string>& chain);
/// What bag-info.txt says of the record: label and value, in order.
std::vector<std::pair<std::string, std::string>> bag_labels(const Record& record);

}  // namespace switchwright
