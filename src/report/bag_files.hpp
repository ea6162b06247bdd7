// What lies in a bag of one record, made from its chain alone: written when it is sealed, made once more when it is
// checked. Nothing of it is held in memory whole: a trace of a day is longer than that.
#pragma once

#include <functional>
#include <string>
#include <utility>
#include <vector>

#include "switchwright/record/additions.hpp"
#include "switchwright/record/chain.hpp"
#include "switchwright/report/exporter.hpp"

namespace switchwright {

/// A file of a bag, and how its content is made.
struct BagFile {
  std::string path;
  std::function<void(const DocumentSink&)> write;
};

/// Which files a bag holds. Bags are kept for years: one of an earlier layout is checked by the layout it was sealed in.
///   1  no label; readings.csv holds what was judged, and nothing else is a table
///   2  results.csv holds what was judged, readings.csv every reading; traces have trace.csv and cycles.csv
inline constexpr int newest_bag_layout = 2;
/// Label in bag-info.txt.
inline constexpr const char* bag_layout_label = "Bag-Layout";

/// Everything under data/ that the chain alone makes, sorted by path. Refers to both.
std::vector<BagFile> bag_payload(const Record& record, const EachLink& chain, int layout = newest_bag_layout);

/// A file that was attached to the record: the chain has its name and SHA-256, its content comes from elsewhere.
struct BagAttachment {
  std::string path;
  Attachment attachment;
};
std::vector<BagAttachment> bag_attachments(const Record& record);

/// The report on paper, set by another program: a bag may be without it.
inline constexpr const char* printed_report = "data/report.pdf";
/// Label in bag-info.txt: how many attachments the bag was sealed without.
inline constexpr const char* attachments_omitted = "Attachments-Omitted";

/// What bag-info.txt says of the record: label and value, in order.
std::vector<std::pair<std::string, std::string>> bag_labels(const Record& record);

}  // namespace switchwright
