#include "report/exporters.hpp"
#include "report/html_page.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"

namespace switchwright {

namespace {

struct Format {
  const char* name;
  std::unique_ptr<Exporter> (*make)(Paper);
};

const Format formats[] = {
    {"text", [](Paper) { return text_exporter(); }},
    {"html", [](Paper) { return html_exporter(); }},
    {"pdf", pdf_exporter},
    {"json", [](Paper) { return json_exporter(); }},
    {"csv", [](Paper) { return csv_exporter(); }},
};

/// A page made of several records, as it is or on paper.
template <class Page>
std::string page_document(const std::string& format, const Page& page) {
  if (format == "html") return page(Medium::screen);
  if (format == "pdf") return pdf_of_page(page(Medium::paper));
  throw Error(ErrorKind::usage, "what joins two records is written as a page or on paper, not as " + format, "",
              "take --format html or --format pdf");
}

}  // namespace

std::vector<std::string> export_formats() {
  std::vector<std::string> names;
  for (const Format& format : formats) names.emplace_back(format.name);
  return names;
}

std::string chain_warning(const std::string& fault) {
  return "NOT WHOLE: this record was changed after it was written; do not rely on what it says (" + fault + ")";
}

std::unique_ptr<Exporter> make_exporter(const std::string& format, Paper paper) {
  for (const Format& known : formats)
    if (format == known.name) return known.make(paper);
  throw Error(ErrorKind::usage, "there is no report format \"" + format + "\"", "",
              suggestion(format, export_formats()));
}

std::string claim_document(const std::vector<Record>& records, const std::string& format, Paper paper) {
  std::vector<const Record*> all;
  for (const Record& record : records) all.push_back(&record);
  return page_document(format, [&](Medium medium) { return claim_page(all, medium, paper); });
}

std::string comparison_document(const Record& first, const Record& second, const std::string& format, Paper paper) {
  return page_document(format, [&](Medium medium) { return comparison_page(first, second, medium, paper); });
}

}  // namespace switchwright
