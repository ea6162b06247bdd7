// The whole record as JSON, in the shape that record.schema.json describes.
#include <nlohmann/json.hpp>

#include "record/record_json.hpp"
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
    return document.dump(2) + "\n";
  }
};

}  // namespace

std::unique_ptr<Exporter> json_exporter() {
  return std::make_unique<JsonExporter>();
}

}  // namespace switchwright
