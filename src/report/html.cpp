// The report as one self-contained page, for a screen or for paper: no script, no network, pictures inside. The verdict
// comes first; on paper the first sheet says all that a reader must know, and the rest follows on few.
#include <fmt/format.h>

#include <algorithm>

#include "core/escape.hpp"
#include "report/exporters.hpp"
#include "report/guided.hpp"
#include "report/html_page.hpp"
#include "report/html_style.hpp"
#include "report/picture.hpp"
#include "report/svg.hpp"
#include "report/voltages.hpp"
#include "switchwright/record/additions.hpp"

namespace switchwright {

namespace {

/// A text as a string of a style sheet: everything but letters and digits by its number, so nothing can end it.
std::string css_string(const std::string& text) {
  std::string out = "\"";
  for (const char c : line_safe(text)) {
    const auto byte = static_cast<unsigned char>(c);
    const bool plain =
        byte >= 0x80 || (byte >= '0' && byte <= '9') || (byte >= 'A' && byte <= 'Z') || (byte >= 'a' && byte <= 'z');
    out += plain ? std::string(1, c) : fmt::format("\\{:x} ", byte);
  }
  return out + "\"";
}

/// A serial number may be of any length; a footer is one line.
std::string shortened(const std::string& text, std::size_t most) {
  if (text.size() <= most) return text;
  std::size_t end = most;
  while (end > 0 && (static_cast<unsigned char>(text[end]) & 0xC0) == 0x80) --end;  // not within a letter
  return text.substr(0, end) + "\xE2\x80\xA6";
}

std::string sheet_footer(const std::vector<const Record*>& records, Paper paper) {
  std::string left = "\"\"";
  for (const Record* record : records) {
    const RecordHeader& h = record->header;
    const std::string first = "Serial " + (h.serial.empty() ? "not stated" : shortened(h.serial, 40)) +
                              " \xC2\xB7 record " + (h.id.empty() ? "not stored" : h.id) + " \xC2\xB7 " +
                              View(*record).verdict_word();
    left += " " + css_string(first) + " \"\\A \" " +
            css_string("chain head " + (record->chain_head.empty() ? "none" : record->chain_head)) + " \"\\A \"";
  }
  return fmt::format(
      "@page {{ size: {}; margin: 10mm 12mm {}mm; @bottom-left {{ content: {}; white-space: pre-line; width: 150mm; "
      "font: 6.4pt/1.35 'DejaVu Sans', sans-serif; color: #566270; }} @bottom-right {{ content: \"page \" counter(page) \" of \" "
      "counter(pages); font: 7.4pt 'DejaVu Sans', sans-serif; color: #566270; width: 30mm; }} }}\n",
      paper == Paper::letter ? "letter" : "A4", records.size() > 1 ? 20 : 15, left);
}

std::string what_it_is_of(const RecordHeader& header) {
  return (header.part.empty() ? "part not stated" : header.part) +
         (header.serial.empty() ? "" : ", serial " + header.serial);
}

std::string schematic_html(const View& view, const std::string& name) {
  if (view.profile() == nullptr) return {};
  const std::string position = view.position_to_show();
  const auto deviating = view.deviating_at(position);
  const std::string figure = schematic_figure(*view.profile(), position, deviating, name);
  if (figure.empty()) return {};
  return "<div class=\"picture schematic\">" + figure + "<p>The network at " + html_safe(view.label(position)) +
         (deviating.empty() ? "" : ", where it deviates") + ", cold and without power.</p></div>\n";
}

std::string pictures_html(const View& view) {
  if (view.pairs().empty() || view.positions().empty()) return {};
  std::string out = "<h2 id=\"matrix\">Every pair at every position</h2>\n<p class=\"lead\">What was read, " +
                    std::string(view.verdict() != nullptr ? "leads subtracted" : "leads included") +
                    ", drawn as a contact.</p>\n<div class=\"picture\">" + matrix_picture(view) + "</div>\n";
  if (is_learning(view.record())) return out;  // there are no limits
  return out +
         "<h2 id=\"axis\">How far from the limits</h2>\n<p class=\"lead\">Each reading with U, over the interval that it must lie "
         "in. The axis is logarithmic.</p>\n<div class=\"picture\">" +
         axis_picture(view) + "</div>\n";
}

std::string cautions_html(const std::vector<std::string>& cautions) {
  std::string out =
      "<section class=\"cautions\" aria-labelledby=\"cautions\">\n<h2 id=\"cautions\">Cautions</h2>\n<ul>\n";
  for (const std::string& caution : cautions) out += "<li>" + sentence_html(caution) + "</li>\n";
  return out + "</ul>\n</section>\n";
}

std::string check_html(const View& view) {
  const Record& record = view.record();
  std::string out = fmt::format(
      "<h2 id=\"check\">How to check this report</h2>\n<p>Chain head, SHA-256 of the last of {} batches of record {}:<br><code "
      "class=\"head\">{}</code></p>\n<ul>\n",
      record.batches, html_safe(record.header.id),
      record.chain_head.empty() ? "none: not stored" : html_safe(record.chain_head));
  for (const std::string& line : view.how_to_check()) out += "<li>" + html_safe(line) + "</li>\n";
  return out + "</ul>\n";
}

/// Notes and files that were added to the record, each with who added it.
std::string additions_html(const Record& record) {
  const auto notes = notes_in(record);
  const auto files = attachments_in(record);
  std::string out;
  if (!notes.empty()) {
    out += "<h2 id=\"notes\">Notes added to the record</h2>\n<ul class=\"compact\">\n";
    for (const AddedNote& note : notes)
      out += "<li>" + local_time_text(note.at, record.header) + ", <b>" + html_safe(note.who) + ":</b> " +
             html_safe(note.text) + "</li>\n";
    out += "</ul>\n";
  }
  if (files.empty()) return out;
  out += "<h2 id=\"attachments\">Files attached to the record</h2>\n<ul class=\"compact\">\n";
  for (const Attachment& a : files)
    out += fmt::format("<li>{}, {} bytes, added by {}; SHA-256 <code>{}</code></li>\n", html_safe(a.name), a.bytes,
                       html_safe(a.who), html_safe(a.sha256));
  return out + "</ul>\n";
}

/// What one record has to say, without what a document says once.
struct Told {
  Told(const Record& record, Medium on) : view(record), medium(on) {
    if (is_trace(record)) trace = trace_parts(record, on);
  }

  std::string front(const std::string& schematic_name) const {
    std::string out;
    if (medium == Medium::screen)
      out += "<div class=\"claim\">" + facts_html(view.identity(), medium) + "</div>\n</header>\n<main>\n";
    if (medium == Medium::paper) out += facts_html(view.identity(), medium) + "</header>\n<main>\n";
    out += scope_html(view, medium);
    if (is_trace(view.record()))
      out += "<h2 id=\"deviations\">What deviates</h2>\n" +
             (trace.deviations.empty() ? nothing_deviates_html(view)
                                       : "<ul class=\"deviations\">\n" + trace.deviations + "</ul>\n");
    else
      out += deviations_html(view, medium);
    return out + schematic_html(view, schematic_name);
  }

  std::string body() const {
    if (is_trace(view.record())) return trace.body;
    return more_deviations_html(view, medium) + explanations_html(view, medium) + open_points_html(view, medium) +
           guided_as_html(view) + pictures_html(view) + voltages_as_html(view);
  }

  std::string back() const {
    return additions_html(view.record()) + readings_html(view, medium) +
           (is_trace(view.record()) ? "" : remarks_html(view)) + how_measured_html(view, medium);
  }

  View view;
  Medium medium;
  TraceParts trace;
};

}  // namespace

std::string page_head(const std::string& title, const std::vector<const Record*>& records, Medium medium, Paper paper) {
  std::string style = medium == Medium::paper ? std::string(paper_style) + sheet_footer(records, paper)
                                              : std::string(html_style) + "@media (prefers-color-scheme: dark) {" +
                                                    svg::dark_repaint + "}\n";
  return "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n"
         "<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n<meta name=\"generator\" content=\"switchwright " +
         html_safe(records.front()->header.tool_version) + "\">\n<title>" + html_safe(title) + "</title>\n<style>" +
         style + "</style>\n</head>\n<body>\n";
}

std::string page_end(const Record& record, Medium) {
  return "</main>\n<footer><p>Written by switchwright " + html_safe(record.header.tool_version) +
         (is_trace(record) ? ". Durations in seconds" : ". Resistances in ohms") +
         ". A value stands with its expanded uncertainty U, rounded to the digits that U leaves (JCGM 100, 7.2.6) and to those that "
         "the meter shows.</p></footer>\n</body>\n</html>\n";
}

std::string warnings_html(const Record& record) {
  std::string out;
  if (!record.chain_fault.empty())
    out += "<p class=\"simulated\" role=\"alert\">" + html_safe(chain_warning(record.chain_fault)) + "</p>\n";
  if (record.header.kind == RecordKind::practice)
    out += "<p class=\"simulated\">Practice: simulated readings, for training. No part was tested.</p>\n";
  else if (record.header.simulated)
    out += "<p class=\"simulated\">Simulated, not a real part. These readings come from the simulator.</p>\n";
  return out;
}

std::string signing_html(const std::vector<const Record*>& records) {
  const std::string who = records.front()->header.operator_name;
  return "<table class=\"signing\"><tbody><tr><td><i>Date and signature of who measured" +
         (who.empty() ? std::string() : ": " + html_safe(who)) +
         "</i></td><td><i>Date, name and signature of who received this report</i></td></tr></tbody></table>\n";
}

std::string record_page(const Record& record, Medium medium, Paper paper) {
  const Told told(record, medium);
  std::string out =
      page_head(upper_first(told.view.title()) + ": " + what_it_is_of(record.header), {&record}, medium, paper);
  out += warnings_html(record) + "<header>\n" + verdict_box_html(told.view) + told.front("schematic") + told.body() +
         told.back();
  out += cautions_html(told.view.cautions()) + check_html(told.view);
  if (record.header.kind != RecordKind::practice && record.verdict) out += signing_html({&record});
  return out + page_end(record, medium);
}

std::string claim_page(const std::vector<const Record*>& records, Medium medium, Paper paper) {
  std::string out = page_head("Claim: " + what_it_is_of(records.front()->header), records, medium, paper);
  std::vector<std::string> cautions;
  std::string check;
  bool first = true;
  for (const Record* record : records) {
    const Told told(*record, medium);
    out += warnings_html(*record);
    const std::string part = is_trace(*record) ? "Trace under power" : "Qualification";
    if (!first) out += "<h1 class=\"part\">" + part + "</h1>\n";
    out += "<header>\n" + verdict_box_html(told.view);
    if (first && records.size() > 1) {
      out += "<p><b>This claim joins " + fmt::format("{}", records.size()) + " records of one serial number:</b> ";
      for (const Record* each : records)
        out += (each == records.front() ? "" : "; ") + html_safe((is_trace(*each) ? "trace " : "qualification ") +
                                                                 each->header.id + ", " + View(*each).title());
      out += ".</p>\n";
    }
    out += told.front(first ? "schematic" : "schematic-2") + told.body() + told.back();
    for (const std::string& caution : told.view.cautions())
      if (std::find(cautions.begin(), cautions.end(), caution) == cautions.end()) cautions.push_back(caution);
    check += check_html(told.view);
    if (record != records.back()) out += "</main>\n";
    first = false;
  }
  return out + cautions_html(cautions) + check + signing_html(records) + page_end(*records.front(), medium);
}

namespace {

class HtmlExporter final : public Exporter {
 public:
  std::string format() const override { return "html"; }
  std::string extension() const override { return ".html"; }
  std::string render(const Record& record) const override { return record_page(record, Medium::screen, Paper::a4); }
};

}  // namespace

std::unique_ptr<Exporter> html_exporter() { return std::make_unique<HtmlExporter>(); }

}  // namespace switchwright
