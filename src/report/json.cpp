// The whole record as JSON, in the shape that record.schema.json describes.
#include <nlohmann/json.hpp>

#include "switchwright/record/record_json.hpp"
#include "report/exporters.hpp"

namespace switchwright {

namespace {

class JsonExporter final : public Exporter {
 public:
  std::string format() const override { return "json"; }
  std::string extension() const override { return ".json"; }
  std::string render(const Record& record) const override {
    nlohmann::json document = record_json(record);
    document["$schema"] = "urn:switchwright:record:" + std::to_string(record_json_version);
    if (!record.stored_samples) return document.dump(2) + "\n";
    // A day of samples as a tree of objects would fill the memory: each becomes a line of text at once.
    document["samples"] = nlohmann::json::array();
    std::string text = document.dump(2) + "\n";
    const std::string place = "\n  \"samples\": ";  // no text inside a document holds a line end
    const auto at = text.find(place) + place.size();
    const std::string rest = text.substr(at + 2);
    text.resize(at);
    bool any = false;
    record.each_sample([&](const SampleRow& sample) {
      text += any ? ",\n    " : "[\n    ";
      text += sample_json(sample).dump();
      any = true;
    });
    if (!any) {
      document.erase("samples");
      return document.dump(2) + "\n";
    }
    text += "\n  ]" + rest;
    return text;
  }
};

}  // namespace

std::unique_ptr<Exporter> json_exporter() {
  return std::make_unique<JsonExporter>();
}

}  // namespace switchwright
