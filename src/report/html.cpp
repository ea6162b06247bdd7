// The report as one self-contained page, for a screen or for paper: no script, no network, pictures inside. The verdict
// comes first; on paper the first sheet says all that a reader must know, and the rest follows on few.
#include <fmt/format.h>

#include <algorithm>

#include "core/escape.hpp"
#include "report/exporters.hpp"
#include "report/front_page.hpp"
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
  return (header.part.empty() ? "part not stated" : shortened(header.part, 120)) +
         (header.serial.empty() ? "" : ", serial " + shortened(header.serial, 120));
}

/// @param most_mm its height; 0: as the style says
std::string schematic_html(const View& view, const std::string& name, double most_mm) {
  if (view.profile() == nullptr) return {};
  const std::string position = view.position_to_show();
  const auto deviating = view.deviating_at(position);
  std::string figure = schematic_figure(*view.profile(), position, deviating, name);
  if (figure.empty()) return {};
  if (most_mm > 0) figure.replace(0, 5, fmt::format("<svg style=\"max-height:{:g}mm\" ", most_mm));
  return "<div class=\"picture schematic\">" + figure + "<p>The network at " +
         html_safe(shortened(view.label(position), 60)) + (deviating.empty() ? "" : ", where it deviates") +
         ", cold and without power.</p></div>\n";
}

/// Of a screen all; of paper those that there is room for.
std::vector<Pair> pairs_shown(const View& view, Medium medium, std::size_t most_readings) {
  return medium == Medium::paper ? pairs_for_picture(view, medium.room().picture_rows, most_readings) : view.pairs();
}

std::string pairs_not_shown(const View& view, const std::vector<Pair>& shown) {
  return and_more(view.pairs().size() - shown.size(), "pairs, those that pass left out first", "report.html");
}

std::string matrix_html(const View& view, Medium medium) {
  if (view.pairs().empty() || view.positions().empty()) return {};
  constexpr std::size_t any = 10'000;
  const std::vector<Pair> pairs = pairs_shown(view, medium, any);
  return "<h2 id=\"matrix\">Every pair at every position</h2>\n<p class=\"lead\">What was read, " +
         std::string(view.verdict() != nullptr ? "leads subtracted" : "leads included") +
         ", drawn as a contact.</p>\n<div class=\"picture matrix\">" + matrix_picture(view, pairs) + "</div>\n" +
         pairs_not_shown(view, pairs);
}

std::string axis_html(const View& view, Medium medium) {
  if (view.pairs().empty() || view.positions().empty() || is_learning(view.record())) return {};  // there are no limits
  constexpr std::size_t in_two_columns = 64;
  const std::vector<Pair> pairs = pairs_shown(view, medium, in_two_columns);
  return "<h2 id=\"axis\">How far from the limits</h2>\n<p class=\"lead\">Each reading with U, over the interval that it must lie "
         "in. The axis is logarithmic.</p>\n<div class=\"picture axis\">" +
         axis_picture(view, pairs, medium == Medium::paper ? 2 : 1) + "</div>\n" + pairs_not_shown(view, pairs);
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

/// Notes and files that were added to the record, each with who added it. On paper the last ones: they tell how it ended.
std::string additions_html(const Record& record, Medium medium) {
  const auto notes = notes_in(record);
  const auto files = attachments_in(record);
  const std::size_t notes_from = notes.size() - medium.most(&PaperRoom::notes, notes.size());
  const std::size_t files_from = files.size() - medium.most(&PaperRoom::notes, files.size());
  std::string out;
  if (!notes.empty()) {
    out += "<h2 id=\"notes\">Notes added to the record</h2>\n" +
           and_more(notes_from, "notes before these", "report.html") + "<ul class=\"compact\">\n";
    for (std::size_t i = notes_from; i < notes.size(); ++i)
      out += "<li>" + local_time_text(notes[i].at, record.header) + ", <b>" +
             html_safe(medium.told(notes[i].who, &PaperRoom::note_text)) + ":</b> " +
             html_safe(medium.told(notes[i].text, &PaperRoom::note_text)) + "</li>\n";
    out += "</ul>\n";
  }
  if (files.empty()) return out;
  out += "<h2 id=\"attachments\">Files attached to the record</h2>\n" +
         and_more(files_from, "files before these", "report.html") + "<ul class=\"compact\">\n";
  for (std::size_t i = files_from; i < files.size(); ++i)
    out += fmt::format("<li>{}, {} bytes, added by {}; SHA-256 <code>{}</code></li>\n",
                       html_safe(medium.told(files[i].name, &PaperRoom::note_text)), files[i].bytes,
                       html_safe(medium.told(files[i].who, &PaperRoom::note_text)), html_safe(files[i].sha256));
  return out + "</ul>\n";
}

/// What one record has to say, without what a document says once.
class Told {
 public:
  Told(const Record& record, Medium on, Paper paper) : view(record), medium_(on), front_{on, 0, 0.0} {
    if (is_trace(record)) trace_ = trace_parts(record, on);
    if (medium_ == Medium::screen) {
      items_ = items_at(on);
      front_.deviations = items_.size();
      return;
    }
    std::vector<std::vector<std::string>> by_level;
    for (int level = 0; level <= Medium::briefest; ++level) by_level.push_back(items_at(Medium::paper_at(level)));
    front_ = front_page(view, by_level, on, paper);
    items_ = by_level[static_cast<std::size_t>(front_.medium.level())];
  }

  std::string front(const std::string& schematic_name) const {
    std::string out = verdict_box_html(view, front_.medium);
    if (medium_ == Medium::screen)
      out += "<div class=\"claim\">" + facts_html(view.identity(), medium_) + "</div>\n</header>\n<main>\n";
    if (medium_ == Medium::paper)
      out += facts_html(front_facts(view, front_.medium), front_.medium) + "</header>\n<main>\n";
    out += scope_html(view, front_.medium);
    if (!is_trace(view.record()))
      out += deviations_html(view, items_, front_.medium, front_.deviations);
    else if (items_.empty())
      out += "<h2 id=\"deviations\">What deviates</h2>\n" + nothing_deviates_html(view);
    else
      out += deviation_list_html(items_, front_.deviations);
    return out + schematic_html(view, schematic_name, front_.schematic_mm);
  }

  std::string body() const {
    const std::string more = more_deviations_html(items_, medium_, front_.deviations);
    if (is_trace(view.record())) return more + trace_.body;
    return more + explanations_html(view, medium_) + open_points_html(view, medium_) + guided_as_html(view, medium_) +
           matrix_html(view, medium_) + (medium_ == Medium::screen ? axis_html(view, medium_) : "") +
           voltages_as_html(view, medium_);
  }

  std::string back() const {
    // On paper a table that goes on over the page stands between two pictures that cannot.
    const std::string axis = medium_ == Medium::paper && !is_trace(view.record()) ? axis_html(view, medium_) : "";
    return (medium_ == Medium::screen ? additions_html(view.record(), medium_) : "") + readings_html(view, medium_) +
           axis + (medium_ == Medium::paper ? additions_html(view.record(), medium_) : "") +
           (is_trace(view.record()) ? "" : remarks_html(view, medium_)) + how_measured_html(view, medium_);
  }

  View view;

 private:
  std::vector<std::string> items_at(Medium medium) const {
    return is_trace(view.record()) ? trace_.deviations : deviation_items(view, medium);
  }

  Medium medium_;
  FrontPage front_;
  std::vector<std::string> items_;  ///< what deviates
  TraceParts trace_;
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

std::string page_end(const Record& record, Medium medium) {
  return "</main>\n<footer><p>Written by switchwright " + html_safe(record.header.tool_version) +
         (is_trace(record) ? ". Durations in seconds" : ". Resistances in ohms") +
         ". A value stands with its expanded uncertainty U, rounded to the digits that U leaves (JCGM 100, 7.2.6) and to those that "
         "the meter shows." +
         (medium == Medium::paper
              ? " What is counted here and not shown, and each text that ends in \xE2\x80\xA6, stands whole in the "
                "evidence folder (report.html, results.csv, record.json) and in report ID --format json."
              : "") +
         "</p></footer>\n</body>\n</html>\n";
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
         (who.empty() ? std::string() : ": " + html_safe(shortened(who, 80))) +
         "</i></td><td><i>Date, name and signature of who received this report</i></td></tr></tbody></table>\n";
}

std::string record_page(const Record& record, Medium medium, Paper paper) {
  const Told told(record, medium, paper);
  std::string out =
      page_head(upper_first(told.view.title()) + ": " + what_it_is_of(record.header), {&record}, medium, paper);
  out += warnings_html(record) + "<header>\n" + told.front("schematic") + told.body() + told.back();
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
    const Told told(*record, medium, paper);
    out += warnings_html(*record);
    const std::string part = is_trace(*record) ? "Trace under power" : "Qualification";
    if (!first) out += "<h1 class=\"part\">" + part + "</h1>\n";
    out += "<header>\n";
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
