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
  if (ending == ".htm") return "html";
  if (ending.empty()) return "text";
  throw Error(ErrorKind::usage, "no report can be written as " + ending, file,
              "end its name with .txt, .html, .pdf, .json or .csv, or say which with --format");
}

void require_report_place(const std::string& file) {
  make_exporter(format_for(file))->require_possible();
  require_writable(file, "--report");
}

void write_report_file(const std::string& file, const Exporter& exporter, const Record& record) {
  DurableFile out(file);
  exporter.write(record, [&](std::string_view piece) { out.write(piece); });
  out.keep();
}

int exit_code_of_shown(const Record& record, int code) { return record.chain_fault.empty() ? code : 5; }

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
  Record record = store.load(record_named(store, id), true);
  if (!record.chain_fault.empty()) say(chain_warning(record.chain_fault));
  return record;
}

Record load_whole_record(const Store& store, const std::string& id) {
  Record record = store.load(record_named(store, id), true);
  if (!record.chain_fault.empty())
    throw Error(ErrorKind::store, chain_warning(record.chain_fault), store.path().string(),
                "measure the part again, and find out who changed the store");
  return record;
}

int run(const ReportOptions& options) {
  const std::string format = !options.format.empty() ? options.format : format_for(options.output);
  const auto exporter = make_exporter(format);
  exporter->require_possible();
  const Store store{store_place(options.store)};
  const Record record = load_record(store, options.id);
  if (options.output.empty() || options.output == "-") {
    exporter->write(record, [](std::string_view piece) { put(std::string{piece}); });
  } else {
    write_report_file(options.output, *exporter, record);
    say("report written to " + options.output);
  }
  return exit_code_of_shown(record, 0);
}

}  // namespace switchwright::cli
