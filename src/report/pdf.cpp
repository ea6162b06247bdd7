// PDF by way of a page for paper and weasyprint, which runs as a child process: a typesetter is not written
// again here. A document has few pages whatever its record holds: it is set again with less room until it fits.
#include <regex>

#include "report/child.hpp"
#include "report/exporters.hpp"
#include "report/html_page.hpp"
#include "switchwright/core/durable_file.hpp"

namespace switchwright {

namespace {

const ChildWords about_weasyprint{"a PDF needs weasyprint, which is not installed",
                                  "install the Debian package weasyprint, or take --format html and print that",
                                  "take --format html and print that"};

/// From the root of its page tree; nothing where the file does not say so in plain text.
std::optional<int> pages_of(const std::string& pdf) {
  const std::size_t at = pdf.find("/Type /Pages");
  if (at == std::string::npos) return std::nullopt;
  const std::size_t from = pdf.rfind("obj", at), end = pdf.find("endobj", at);
  if (from == std::string::npos || end == std::string::npos) return std::nullopt;
  const std::string object = pdf.substr(from, end - from);
  std::smatch count;
  return std::regex_search(object, count, std::regex("/Count ([0-9]{1,6})")) ? std::optional{std::stoi(count[1])}
                                                                             : std::nullopt;
}

class PdfExporter final : public Exporter {
 public:
  explicit PdfExporter(Paper paper) : paper_(paper) {}
  std::string format() const override { return "pdf"; }
  std::string extension() const override { return ".pdf"; }
  void require_possible() const override { require_program("weasyprint", about_weasyprint); }
  std::string render(const Record& record) const override {
    const int most = record.header.kind == RecordKind::trace ? 5 : 4;
    for (int level = 0; level < Medium::briefest; ++level) {
      std::string pdf = pdf_of_page(record_page(record, Medium::paper_at(level), paper_));
      const auto pages = pages_of(pdf);
      if (!pages) break;  // it cannot be seen whether it fits, so it is made to fit
      if (*pages <= most) return pdf;
      if (*pages > most + 2) break;  // far from it, and each try takes seconds
    }
    return pdf_of_page(record_page(record, Medium::paper_at(Medium::briefest), paper_));
  }

 private:
  Paper paper_;
};

}  // namespace

std::string pdf_of_page(const std::string& html) {
  const TemporaryFolder folder;
  const std::string page = (folder / "report.html").string(), pdf = (folder / "report.pdf").string();
  write_file_durably(page, html);
  return product_of({"weasyprint", "--quiet", page, pdf}, pdf, about_weasyprint);
}

std::unique_ptr<Exporter> pdf_exporter(Paper paper) { return std::make_unique<PdfExporter>(paper); }

}  // namespace switchwright
