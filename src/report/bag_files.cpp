#include "report/bag_files.hpp"

#include "core/escape.hpp"
#include "report/exporters.hpp"
#include "report/record_schema.hpp"
#include "report/view.hpp"

namespace switchwright {

BagFiles bag_payload(const Record& record, const std::vector<std::string>& chain) {
  BagFiles files;
  files["data/record.json"] = json_exporter()->render(record);
  files["data/record.schema.json"] = record_schema();
  files["data/readings.csv"] = csv_exporter()->render(record);
  files["data/report.html"] = html_exporter()->render(record);
  for (const std::string& link : chain) files["data/chain.jsonl"] += link + "\n";
  if (const auto& text = record.header.profile_text; !text.empty()) files["data/profile.toml"] = text;
  if (const auto& text = record.header.meter_text; !text.empty()) files["data/meter.toml"] = text;
  return files;
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
