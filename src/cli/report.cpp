#include <filesystem>

#include "cli/options/options.hpp"
#include "cli/output.hpp"
#include "cli/choose/places.hpp"
#include "cli/write_report.hpp"
#include "switchwright/core/durable_file.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/record/store.hpp"
#include "switchwright/report/exporter.hpp"

namespace switchwright::cli {

std::string format_for(const std::string& file) {
  const std::string ending = std::filesystem::path{file}.extension().string();
  for (const std::string& format : export_formats())
    if (make_exporter(format)->extension() == ending) return format;
  return ending == ".htm" ? "html" : "text";
}

std::string record_named(const Store& store, const std::string& id) {
  if (id != "latest") return id;
  const auto all = store.list();
  if (all.empty())
    throw Error(ErrorKind::usage, "there is no record yet", store.path().string(), "start with: switchwright qualify");
  const auto newest = std::max_element(all.begin(), all.end(), [](const RecordSummary& a, const RecordSummary& b) {
    return std::pair{a.started, a.id} < std::pair{b.started, b.id};
  });
  return newest->id;
}

Record load_record(const Store& store, const std::string& id) {
  return store.load(record_named(store, id), true);
}

int run(const ReportOptions& options) {
  const std::string format = !options.format.empty() ? options.format : format_for(options.output);
  const auto exporter = make_exporter(format);
  const Store store{store_place(options.store)};
  const std::string document = exporter->render(load_record(store, options.id));
  if (options.output.empty() || options.output == "-") {
    put(document);
  } else {
    write_file_durably(options.output, document);
    say("report written to " + options.output);
  }
  return 0;
}

}  // namespace switchwright::cli
