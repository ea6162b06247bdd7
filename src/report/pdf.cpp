// PDF by way of a page for paper and weasyprint, which runs as a child process: a typesetter is not written
// again here.
#include "report/child.hpp"
#include "report/exporters.hpp"
#include "report/html_page.hpp"
#include "switchwright/core/durable_file.hpp"

namespace switchwright {

namespace {

const ChildWords about_weasyprint{"a PDF needs weasyprint, which is not installed",
                                  "install the Debian package weasyprint, or take --format html and print that",
                                  "take --format html and print that"};

class PdfExporter final : public Exporter {
 public:
  explicit PdfExporter(Paper paper) : paper_(paper) {}
  std::string format() const override { return "pdf"; }
  std::string extension() const override { return ".pdf"; }
  void require_possible() const override { require_program("weasyprint", about_weasyprint); }
  std::string render(const Record& record) const override {
    return pdf_of_page(record_page(record, Medium::paper, paper_));
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
