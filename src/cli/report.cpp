#include <filesystem>

#include "cli/choose/places.hpp"
#include "cli/options/options.hpp"
#include "cli/output.hpp"
#include "cli/write_report.hpp"
#include "switchwright/core/durable_file.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/record/store.hpp"
#include "switchwright/report/claim.hpp"
#include "switchwright/report/exporter.hpp"
#include "switchwright/report/label.hpp"

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
  std::string newest = store.newest();
  if (newest.empty())
    throw Error(ErrorKind::usage, "there is no record yet", store.path().string(), "start with: switchwright qualify");
  return newest;
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

namespace {

/// Gives the sink the document asked for. @param code made worse where a second record's chain does not hold.
void write_document(const ReportOptions& options, const Store& store, const Record& record, const std::string& format,
                    Paper paper, int& code, const DocumentSink& sink) {
  const auto other = [&] {
    Record found = load_record(store, options.other.empty() ? claim_partner(store, record.header) : options.other);
    code = exit_code_of_shown(found, code);
    return found;
  };
  if (options.kind == "comparison") {
    if (options.other.empty())
      throw Error(ErrorKind::usage, "a comparison needs two records", "", "write report ID OTHER --kind comparison");
    return sink(comparison_document(record, other(), format, paper));
  }
  if (options.kind == "claim") {
    std::vector<Record> both;
    Record second = other();
    const bool swap = record.header.kind == RecordKind::trace && second.header.kind != RecordKind::trace;
    require_one_piece(record.header, second.header);
    both.push_back(swap ? std::move(second) : record);
    both.push_back(swap ? record : std::move(second));
    return sink(claim_document(both, format, paper));
  }
  if (!options.other.empty())
    throw Error(ErrorKind::usage, "two records are named, but not what is to be made of them", "",
                "add --kind claim or --kind comparison");
  const bool is_trace_record = record.header.kind == RecordKind::trace;
  if ((options.kind == "trace" && !is_trace_record) || (options.kind == "qualification" && is_trace_record))
    throw Error(
        ErrorKind::usage,
        "record " + record.header.id + " is of kind " + to_string(record.header.kind) + ", not a " + options.kind,
        store.path().string(), "leave --kind out");
  make_exporter(format, paper)->write(record, sink);
}

}  // namespace

int run(const ReportOptions& options) {
  const bool joins = options.kind == "claim" || options.kind == "comparison";
  const std::string format = !options.format.empty()           ? options.format
                             : options.output.empty() && joins ? "html"
                                                               : format_for(options.output);
  make_exporter(format)->require_possible();
  const Store store{store_place(options.store)};
  const Record record = load_record(store, options.id);
  int code = exit_code_of_shown(record, 0);
  const Paper paper = options.paper == "letter" ? Paper::letter : Paper::a4;
  if (options.output.empty() || options.output == "-") {
    write_document(options, store, record, format, paper, code,
                   [](std::string_view piece) { put(std::string{piece}); });
  } else {
    DurableFile out(options.output);
    write_document(options, store, record, format, paper, code, [&](std::string_view piece) { out.write(piece); });
    out.keep();
    say("report written to " + options.output);
  }
  return code;
}

int run(const LabelOptions& options) {
  const std::string ending = std::filesystem::path{options.output}.extension().string();
  if (ending != ".pdf" && ending != ".png")
    throw Error(ErrorKind::usage, "a label is written as PDF or PNG", options.output,
                "let the name end in .pdf or .png");
  const Store store{store_place(options.store)};
  const Record record = load_whole_record(store, options.id);
  require_label_stands(store, record);
  write_file_durably(options.output, ending == ".pdf" ? label_pdf(record) : label_png(record));
  say("label written to " + options.output);
  return 0;
}

}  // namespace switchwright::cli
