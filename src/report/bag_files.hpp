// What lies in a bag of one record, made from its chain alone: written when it is sealed, made once more when it is
// checked. Nothing of it is held in memory whole: a trace of a day is longer than that.
#pragma once

#include <functional>
#include <string>
#include <utility>
#include <vector>

#include "switchwright/record/chain.hpp"
#include "switchwright/report/exporter.hpp"

namespace switchwright {

/// A file of a bag, and how its content is made.
struct BagFile {
  std::string path;
  std::function<void(const DocumentSink&)> write;
};

/// Everything under data/, sorted by path, so that two bags of one record have the same manifest. Refers to both.
std::vector<BagFile> bag_payload(const Record& record, const EachLink& chain);
/// What bag-info.txt says of the record: label and value, in order.
std::vector<std::pair<std::string, std::string>> bag_labels(const Record& record);

}  // namespace switchwright
