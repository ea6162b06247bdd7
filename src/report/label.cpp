#include "switchwright/report/label.hpp"

#include <fmt/format.h>
#include <qrencode.h>

#include <memory>

#include "core/escape.hpp"
#include "report/child.hpp"
#include "report/exporters.hpp"
#include "report/html_parts.hpp"
#include "report/view.hpp"
#include "switchwright/core/durable_file.hpp"
#include "switchwright/core/error.hpp"

namespace switchwright {

namespace {

/// @param most bytes; a letter is never cut in two
std::string cut(const std::string& text, std::size_t most) {
  if (text.size() <= most) return text;
  std::size_t end = most;
  while (end > 0 && (static_cast<unsigned char>(text[end]) & 0xC0) == 0x80) --end;
  return text.substr(0, end) + "...";
}

/// Dark modules as one path, with the four modules of quiet zone that ISO/IEC 18004 asks for.
std::string qr_svg(const std::string& text) {
  struct Free {
    void operator()(QRcode* code) const { QRcode_free(code); }
  };
  const std::unique_ptr<QRcode, Free> code(QRcode_encodeData(
      static_cast<int>(text.size()), reinterpret_cast<const unsigned char*>(text.data()), 0, QR_ECLEVEL_M));
  if (!code)
    throw Error(ErrorKind::store, "the QR code could not be made", "", "print the report instead of the label");
  constexpr int quiet = 4;
  const int side = code->width + 2 * quiet;
  std::string path;
  for (int y = 0; y < code->width; ++y)
    for (int x = 0; x < code->width; ++x)
      if ((code->data[y * code->width + x] & 1) != 0) path += fmt::format("M{} {}h1v1h-1z", x + quiet, y + quiet);
  return fmt::format(
      "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {0} {0}\" width=\"{0}\" height=\"{0}\" shape-rendering=\"crispEdges\">"
      "<rect width=\"{0}\" height=\"{0}\" fill=\"#ffffff\"/><path d=\"{1}\" fill=\"#000000\"/></svg>",
      side, path);
}

std::string day_of(const Record& record) {
  return local_time_text(record.ended.value_or(record.header.started), record.header).substr(0, 10);
}

/// Black on white: label printers know nothing else. The outcome shows by its word and by its frame.
std::string label_page(const Record& record) {
  const RecordHeader& h = record.header;
  const View view(record);
  const std::string word = view.verdict_word();
  std::string what;
  if (h.kind == RecordKind::practice)
    what = "PRACTICE, no part was tested";
  else if (h.simulated)
    what = "SIMULATED, not a real part";
  const auto row = [](const char* name, const std::string& value) {
    return value.empty() ? std::string() : fmt::format("<tr><th>{}</th><td>{}</td></tr>", name, html_safe(value));
  };
  return "<!DOCTYPE html><html lang=\"en\"><head><meta charset=\"utf-8\"><title>label</title><style>"
         "@page { size: 62mm 44mm; margin: 1.5mm; } * { box-sizing: border-box; overflow-wrap: anywhere; }"
         "body { margin: 0; font: 6.6pt/1.2 'DejaVu Sans', sans-serif; color: #000; }"
         ".box { width: 59mm; height: 40mm; overflow: hidden; }"
         ".code { float: right; width: 26mm; } .code svg { width: 26mm; height: 26mm; display: block; }"
         ".word { width: 32mm; height: 7.4mm; border: 0.6mm solid #000; text-align: center; font: 700 13pt/6mm 'DejaVu Sans', sans-serif;"
         " text-transform: uppercase; } .fail { background: #000; color: #fff; } .undecided, .unfinished { border-style: dashed; font-size: 10pt; }"
         ".scope { width: 32mm; margin: 0.6mm 0; font-weight: 700; max-height: 8mm; overflow: hidden; }"
         ".left { float: left; width: 32.5mm; } table { border-collapse: collapse; width: 32mm; } th { text-align: left; font-weight: 400; padding: 0 1mm 0 0; vertical-align: top; }"
         "td { font-weight: 700; padding: 0; } .serial { width: 59mm; clear: both; padding-top: 0.5mm; font-size: 6pt; }"
         "</style></head><body><div class=\"box\"><div class=\"code\">" +
         qr_svg(label_code_text(record)) + "</div><div class=\"left\"><div class=\"word " + word + "\">" +
         html_safe(word) + "</div><div class=\"scope\">" +
         html_safe(!what.empty()    ? what
                   : word == "pass" ? view.title()
                                    : "") +
         "</div><table>" + row("Part", cut(h.part, 40)) + row("Date", day_of(record)) +
         row("By", cut(h.operator_name, 24)) + "</table></div><div class=\"serial\">Serial <b>" +
         html_safe(h.serial.empty() ? "not stated" : cut(h.serial, 44)) + "</b><br>Record <b>" + html_safe(h.id) +
         "</b></div></div></body></html>";
}

}  // namespace

std::string label_code_text(const Record& record) {
  const RecordHeader& h = record.header;
  const View view(record);
  std::string text = "record: " + h.id + "\nverdict: " + view.verdict_word();
  if (view.verdict_word() == "pass") text += " (" + line_safe(view.title()) + ")";
  if (h.simulated || h.kind == RecordKind::practice) text += " (simulated, not a real part)";
  if (!h.serial.empty()) text += "\nserial: " + line_safe(cut(h.serial, 80));
  text += "\ndate: " + day_of(record);
  if (!record.chain_head.empty()) text += "\nchain head: " + record.chain_head;
  return text + "\n";
}

std::string label_pdf(const Record& record) { return pdf_of_page(label_page(record)); }

std::string label_png(const Record& record) {
  const TemporaryFolder folder;
  const std::string pdf = (folder / "label.pdf").string(), stem = (folder / "label").string();
  write_file_durably(pdf, label_pdf(record));
  return product_of(
      {"pdftoppm", "-png", "-r", "300", "-singlefile", "-gray", pdf, stem}, stem + ".png",
      {"a PNG needs pdftoppm, which is not installed",
       "install the Debian package poppler-utils, or let the name end in .pdf", "let the name end in .pdf"});
}

}  // namespace switchwright
