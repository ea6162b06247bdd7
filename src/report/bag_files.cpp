#include "report/bag_files.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "core/escape.hpp"
#include "report/bag_tables.hpp"
#include "report/exporters.hpp"
#include "report/record_schema.hpp"
#include "report/trace_view.hpp"
#include "report/view.hpp"

namespace switchwright {

std::vector<BagFile> bag_payload(const Record& record, const EachLink& chain, int layout) {
  std::vector<BagFile> files;
  const auto text = [&](const char* path, const std::string& content) {
    files.push_back({path, [content](const DocumentSink& sink) { sink(content); }});
  };
  const auto exported = [&](const char* path, const char* format) {
    files.push_back(
        {path, [&record, format](const DocumentSink& sink) { make_exporter(format)->write(record, sink); }});
  };
  const auto table = [&](const char* path, void (*write)(const Record&, const DocumentSink&)) {
    files.push_back({path, [&record, write](const DocumentSink& sink) { write(record, sink); }});
  };
  exported("data/record.json", "json");
  text("data/record.schema.json", record_schema());
  exported("data/report.html", "html");
  if (layout < 2) {
    exported("data/readings.csv", "csv");
  } else if (is_trace(record)) {
    exported("data/trace.csv", "csv");
    table("data/cycles.csv", cycles_csv);
  } else {
    exported("data/results.csv", "csv");
    table("data/readings.csv", every_reading_csv);
  }
  files.push_back({"data/chain.jsonl",
                   [&chain](const DocumentSink& sink) { chain([&](const std::string& link) { sink(link + "\n"); }); }});
  if (const auto& profile = record.header.profile_text; !profile.empty()) text("data/profile.toml", profile);
  if (const auto& meter = record.header.meter_text; !meter.empty()) text("data/meter.toml", meter);
  std::sort(files.begin(), files.end(), [](const BagFile& a, const BagFile& b) { return a.path < b.path; });
  return files;
}

std::vector<BagAttachment> bag_attachments(const Record& record) {
  std::vector<BagAttachment> all;
  for (const Attachment& attachment : attachments_in(record)) {
    // A name from outside: what any file system and any manifest takes, and never two of one name.
    std::string name = fmt::format("data/attachments/{:02}-", all.size() + 1);
    for (const char c : attachment.name.substr(0, 80)) {
      const bool plain = (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '.' ||
                         c == '-' || c == '_';
      name += plain ? c : '_';
    }
    all.push_back({name, attachment});
  }
  return all;
}

std::vector<std::pair<std::string, std::string>> bag_labels(const Record& record) {
  const RecordHeader& h = record.header;
  std::vector<std::pair<std::string, std::string>> labels;
  const auto add = [&](const char* label, const std::string& value) {
    if (!value.empty()) labels.emplace_back(label, line_safe(value));
  };
  add("External-Identifier", h.id);
  add("External-Description", View(record).verdict_word() + (h.part.empty() ? "" : ": " + h.part) +
                                  (h.serial.empty() ? "" : ", serial number " + h.serial) +
                                  (h.simulated ? " (simulated, not a real part)" : ""));
  add("Contact-Name", h.operator_name);
  add("Chain-Head", record.chain_head);
  return labels;
}

}  // namespace switchwright
