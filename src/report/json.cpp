// The whole record as JSON, in the shape that record.schema.json describes.
#include <nlohmann/json.hpp>

#include "report/exporters.hpp"
#include "switchwright/record/record_json.hpp"

namespace switchwright {

namespace {

class JsonExporter final : public Exporter {
 public:
  std::string format() const override { return "json"; }
  std::string extension() const override { return ".json"; }
  std::string render(const Record& record) const override {
    std::string text;
    write(record, [&](std::string_view piece) { text += piece; });
    return text;
  }
  void write(const Record& record, const DocumentSink& sink) const override {
    nlohmann::json document = record_json(record);
    document["$schema"] = "urn:switchwright:record:" + std::to_string(record_json_version);
    if (!record.stored_samples) return sink(document.dump(2) + "\n");
    // A day of samples as a tree of objects would fill the memory: each becomes a line of text at once.
    document["samples"] = nlohmann::json::array();
    const std::string text = document.dump(2) + "\n";
    const std::string place = "\n  \"samples\": ";  // no text inside a document holds a line end
    const auto at = text.find(place) + place.size();
    bool any = false;
    std::string piece;
    record.each_sample([&](const SampleRow& sample) {
      piece += any ? ",\n    " : text.substr(0, at) + "[\n    ";
      piece += sample_json(sample).dump();
      any = true;
      if (piece.size() < piece_size) return;
      sink(piece);
      piece.clear();
    });
    if (any) return sink(piece + "\n  ]" + text.substr(at + 2));
    document.erase("samples");
    sink(document.dump(2) + "\n");
  }

 private:
  static constexpr std::size_t piece_size = 1U << 16U;
};

}  // namespace

std::unique_ptr<Exporter> json_exporter() { return std::make_unique<JsonExporter>(); }

}  // namespace switchwright
