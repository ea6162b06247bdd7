// The report as one self-contained page: no script, no network, pictures inside. The verdict comes first.
#include <fmt/format.h>

#include <algorithm>

#include "switchwright/record/record_json.hpp"
#include "core/escape.hpp"
#include "report/exporters.hpp"
#include "report/guided.hpp"
#include "report/html_style.hpp"
#include "report/picture.hpp"
#include "report/svg.hpp"
#include "report/trace_view.hpp"
#include "report/view.hpp"
#include "report/voltages.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/explain/diagnosis.hpp"

namespace switchwright {

namespace {

std::string number(const std::string& text) {
  return html_safe(svg::with_ohm_sign(text));
}

/// A sentence of the judge: numbers in ohm get the sign.
std::string sentence(const std::string& text) {
  return html_safe(svg::with_ohm_signs(text));
}

std::string upper_first(std::string text) {
  if (!text.empty() && text[0] >= 'a' && text[0] <= 'z') text[0] = static_cast<char>(text[0] - 'a' + 'A');
  return text;
}

/// The verdict as a shape: an octagon with a cross, a tick in a circle, a question mark in a dashed circle.
std::string verdict_shape(const std::string& word) {
  const auto svg_of = [](const std::string& inside) {
    return "<svg viewBox=\"0 0 76 76\" aria-hidden=\"true\">" + inside + "</svg>";
  };
  const std::string round = " stroke-linecap=\"round\" stroke-linejoin=\"round\"/>";
  if (word == "pass")
    return svg_of("<circle cx=\"38\" cy=\"38\" r=\"34\" " + svg::stroke(svg::Paint::pass, 6) +
                  "/><path d=\"M22 39 l11 12 l22 -26\" " + svg::stroke(svg::Paint::pass, 8) + round);
  if (word == "fail")
    return svg_of("<path d=\"M24 4 L52 4 L72 24 L72 52 L52 72 L24 72 L4 52 L4 24 Z\" " +
                  svg::fill(svg::Paint::fail) + "/><path d=\"M25 25 L51 51 M51 25 L25 51\" " +
                  svg::stroke(svg::Paint::paper, 8) + round);
  if (word == "learned")
    return svg_of("<circle cx=\"38\" cy=\"38\" r=\"34\" " + svg::stroke(svg::Paint::muted, 6) + "/><path d=\"M22 28 H54 M22 38 H54 M22 48 H42\" " +
                  svg::stroke(svg::Paint::muted, 6) + round);
  const svg::Paint paint = word == "undecided" ? svg::Paint::undecided : svg::Paint::muted;
  return svg_of("<circle cx=\"38\" cy=\"38\" r=\"34\" " + svg::stroke(paint, 6) +
                " stroke-dasharray=\"12 7\"/><path d=\"M28 29 a10 10 0 1 1 14 9 q-4 2 -4 8\" " +
                svg::stroke(paint, 6) + round + "<circle cx=\"38\" cy=\"56\" r=\"4\" " + svg::fill(paint) +
                "/>");
}

class Page {
 public:
  explicit Page(const Record& record) : record_(record), view_(record) {}

  std::string whole() {
    const RecordHeader& h = record_.header;
    const std::string word = view_.verdict_word();
    const std::string part = h.part.empty() ? "part not stated" : h.part;
    out_ +=
        "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n"
        "<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n"
        "<meta name=\"generator\" content=\"switchwright " +
        html_safe(h.tool_version) +
        "\">\n"
        "<title>" +
        html_safe(upper_first(view_.title()) + ": " + part + (h.serial.empty() ? "" : ", serial " + h.serial)) +
        "</title>\n"
        "<style>" +
        html_style + "</style>\n</head>\n<body>\n";
    if (!record_.chain_fault.empty())
      out_ += "<p class=\"simulated\" role=\"alert\">" + html_safe(chain_warning(record_.chain_fault)) + "</p>\n";
    if (h.kind == RecordKind::practice)
      out_ += "<p class=\"simulated\">Practice: simulated readings, for training. No part was tested.</p>\n";
    else if (h.simulated)
      out_ +=
          "<p class=\"simulated\">Simulated, not a real part. These readings come from the simulator.</p>\n";
    out_ += "<header>\n<div class=\"verdict " + word + "\">" + verdict_shape(word) + "<div><h1>" + html_safe(view_.title()) +
            "</h1><p>" + html_safe(view_.headline()) + "</p></div></div>\n<div class=\"about\">";
    about("Part", h.part, "not stated");
    about("Serial", h.serial, "not stated");
    about("Operator", h.operator_name, "not stated");
    about("Date", time_text(h.started), "");
    about("Record", h.id, "not stored");
    out_ += "</div>\n</header>\n<main>\n";
    scope();
    if (is_trace(record_)) {
      out_ += trace_html(record_);
    } else {
      deviations();
      out_ += guided_as_html(view_);
      pictures();
      out_ += voltages_as_html(view_);
      remarks();
    }
    how_measured();
    readings();
    cautions();
    provenance();
    out_ += "</main>\n<footer><p>Written by switchwright " + html_safe(h.tool_version) +
            (is_trace(record_) ? ". Durations in seconds" : ". Resistances in ohm") +
            ", times in UTC. A reading stands with its expanded uncertainty "
            "U.</p></footer>\n</body>\n</html>\n";
    return std::move(out_);
  }

 private:
  void about(const char* name, const std::string& value, const char* otherwise) {
    out_ += fmt::format("<span>{} {}</span>\n", name,
                        value.empty() ? fmt::format("<span class=\"missing\">{}</span>", otherwise)
                                      : "<b>" + html_safe(value) + "</b>");
  }

  void heading(const char* id, const char* words) {
    out_ += fmt::format("<h2 id=\"{}\">{}</h2>\n", id, words);
  }

  std::string place(const Expectation& expected) const {
    return html_safe(expected.pair.first() + "\xE2\x80\x93" + expected.pair.second()) + " at " +
           html_safe(view_.label(expected.position));
  }

  void scope() {
    const auto rows = view_.scope();
    if (rows.empty()) return;
    heading("scope", "What this verdict covers");
    out_ += "<div class=\"table\"><table class=\"facts\">\n<tbody>\n";
    for (const ScopeRow& row : rows)
      out_ += fmt::format("<tr><th scope=\"row\">{}</th><td class=\"judged\">{}</td><td>{}</td></tr>\n",
                          upper_first(html_safe(row.part)), html_safe(row.decided),
                          sentence(row.reason + (row.reason.empty() || row.how.empty() ? "" : ". ") + row.how));
    out_ += "</tbody>\n</table></div>\n";
  }

  void stated(const Verdict& verdict) {
    if (verdict.stated.empty()) return;
    heading("stated", "Stated, from other instruments");
    out_ += "<ul>\n";
    for (const StatedFinding& f : verdict.stated)
      out_ += fmt::format("<li><b>{}.</b> {}</li>\n", upper_first(word_for(f.outcome)), sentence(f.sentence));
    out_ += "</ul>\n";
  }

  void deviations() {
    const Verdict* verdict = view_.verdict();
    if (verdict == nullptr) return;
    heading("deviations", "What deviates");
    const auto list = view_.deviations();
    const auto voltages = voltage_deviations(view_);
    if (list.empty() && voltages.empty()) {
      out_ += verdict->findings.empty() && verdict->voltages.empty()
                  ? "<p>Nothing of the part was judged.</p>\n"
                  : "<p class=\"fine\">Nothing of the part deviates.</p>\n";
    } else {
      out_ += "<ul class=\"deviations\">\n";
      for (const Group& group : list) deviation(group);
      for (const VoltageGroup& group : voltages) deviation(group);
      out_ += "</ul>\n";
    }
    if (verdict->diagnosis) explanations(*verdict->diagnosis);
    const auto open = view_.undecided();
    const auto open_voltages = undecided_voltages(view_);
    if (!open.empty() || !open_voltages.empty()) {
      heading("undecided", "What is not decided");
      out_ += "<ul>\n";
      for (const Group& group : open) out_ += "<li>" + sentence(view_.told(group)) + "</li>\n";
      for (const VoltageGroup& group : open_voltages) out_ += "<li>" + sentence(told(view_, group)) + "</li>\n";
      out_ += "</ul>\n";
    }
    if (!verdict->voltages_not_measured.empty())
      out_ += fmt::format("<p>Under power, {} voltages were not measured.</p>\n", verdict->voltages_not_measured.size());
    if (!verdict->not_measured.empty()) {
      heading("not-measured", "What was not measured");
      out_ += "<ul>\n";
      for (const Expectation& e : verdict->not_measured)
        out_ += "<li>" + place(e) + (e.reason.empty() ? "" : ": " + html_safe(e.reason)) + "</li>\n";
      out_ += "</ul>\n";
    }
    if (!verdict->left_out.empty()) {
      heading("left-out", "What the plan left out");
      out_ += "<ul>\n";
      for (const LeftOutRow& row : left_out_rows(view_, *verdict))
        out_ += "<li>" + html_safe(row.pair.first() + "\xE2\x80\x93" + row.pair.second() + " at " +
                                   joined_with_and(row.positions)) +
                "</li>\n";
      out_ += "</ul>\n";
    }
    stated(*verdict);
    if (!verdict->inspection.empty()) {
      heading("inspection", "Inspection by eye and hand");
      out_ +=
          "<div class=\"table\"><table>\n<thead><tr><th scope=\"col\">Question</th><th "
          "scope=\"col\">Answer</th><th "
          "scope=\"col\">If not</th><th scope=\"col\">Note</th></tr></thead>\n<tbody>\n";
      for (const InspectionFinding& i : verdict->inspection)
        out_ += fmt::format("<tr{}><td>{}</td><td class=\"judged\">{}</td><td>{}</td><td>{}</td></tr>\n",
                            i.answer == false ? " class=\"fail\""
                            : i.answer        ? ""
                                              : " class=\"undecided\"",
                            html_safe(i.question.ask),
                            !i.answer   ? "not answered"
                            : *i.answer ? "yes"
                                        : "NO",
                            word_for(i.question.severity), html_safe(i.note));
      out_ += "</tbody>\n</table></div>\n";
    }
  }

  /// Each explanation with its probability as a bar; the first in full.
  void explanations(const DiagnosisSummary& diagnosis) {
    heading("explanations", "What explains the readings");
    out_ += "<ol class=\"explanations\">\n";
    std::size_t shown = 0;
    for (const ExplainedFault& e : diagnosis.explanations) {
      if (++shown > 5) break;
      out_ += fmt::format(
          "<li><p class=\"sentence\"><span class=\"share\">{}</span> {} <code>{}</code></p>"
          "<div class=\"bar\" aria-hidden=\"true\"><i style=\"width:{:.1f}%\"></i></div>",
          html_safe(percent_text(e.probability)), html_safe(upper_first(e.words)), html_safe(e.fault),
          100.0 * e.probability);
      if (shown > 1 && e.probability < 0.05) {  // named, and that is all
        out_ += "</li>\n";
        continue;
      }
      for (const Consequence& c : e.consequences)
        out_ += fmt::format("<p><b>{}.</b> {}{}</p>", upper_first(word_for(c.severity)), html_safe(c.means),
                            shown == 1 ? "<br><b>To do.</b> " + html_safe(c.next) : "");
      if (!e.same_readings_as.empty())
        out_ += "<p class=\"numbers\">These readings cannot tell it from " + codes(e.same_readings_as) + ".</p>";
      out_ += "</li>\n";
    }
    out_ += "</ol>\n";
    if (diagnosis.next)
      out_ += fmt::format(
          "<p class=\"next\">Measure next, it tells most: <b>{}\xE2\x80\x93{}</b> at {}.</p>\n",
          html_safe(diagnosis.next->pair.first()), html_safe(diagnosis.next->pair.second()),
          html_safe(view_.label(diagnosis.next->position)));
    if (!diagnosis.assumed.empty()) out_ += "<p class=\"numbers\">" + html_safe(diagnosis.assumed) + "</p>\n";
  }

  static std::string codes(const std::vector<std::string>& faults) {
    constexpr std::size_t most = 4;
    std::string text;
    for (std::size_t i = 0; i < std::min(most, faults.size()); ++i)
      text += (i == 0 ? "<code>" : ", <code>") + html_safe(faults[i]) + "</code>";
    return faults.size() > most ? text + fmt::format(" and {} more", faults.size() - most) : text;
  }

  void deviation(const Group& group) {
    const Finding& first = group.first();
    const bool only_sound = first.continuity != Outcome::fail && first.sound == Outcome::fail;
    std::vector<std::string> positions, results;
    for (const Finding* f : group.findings) {
      positions.push_back(view_.label(f->expected.position));
      const std::string result = result_text(*f);
      if (std::find(results.begin(), results.end(), result) == results.end()) results.push_back(result);
    }
    const std::string limit = only_sound && first.expected.sound_max_ohm
                                  ? "at most " + human_ohm(*first.expected.sound_max_ohm) + " to be sound"
                                  : must_be(first.expected);
    out_ += fmt::format(
        "<li{}><div class=\"severity\">{}{}</div><p class=\"sentence\">{}</p><p "
        "class=\"numbers\"><b>{}\xE2\x80\x93{}</b> at "
        "{} &middot; read <b>{}</b> &middot; must be <b>{}</b>{}</p></li>\n",
        only_sound ? " class=\"not-sound\"" : "", first.severity ? word_for(*first.severity) : "",
        only_sound ? " &middot; not sound" : "", sentence(view_.told(group)),
        html_safe(first.expected.pair.first()), html_safe(first.expected.pair.second()),
        html_safe(joined_with_and(positions)), number(joined_with_and(results)), number(limit),
        first.continuity == Outcome::undecided ? " &middot; " + number(must_be(first.expected)) + ": undecided"
                                            : "");
  }

  void deviation(const VoltageGroup& group) {
    const VoltageFinding& first = group.first();
    std::vector<std::string> positions;
    for (const VoltageFinding* f : group.findings) positions.push_back(view_.label(f->expected.position));
    out_ += fmt::format(
        "<li><div class=\"severity\">{}</div><p class=\"sentence\">{}</p><p class=\"numbers\"><b>{}\xE2\x80\x93{}</b> at {} "
        "&middot; read <b>{}</b> &middot; must be <b>{}</b></p></li>\n",
        first.severity ? word_for(*first.severity) : "", sentence(told(view_, group)),
        html_safe(first.expected.pair.first()), html_safe(first.expected.pair.second()),
        html_safe(joined_with_and(positions)), html_safe(result_text(first)), html_safe(must_be(first.expected)));
  }

  void pictures() {
    if (view_.pairs().empty() || view_.positions().empty()) return;
    heading("matrix", "Every pair at every position");
    out_ += "<p class=\"lead\">What was read, " +
            std::string(view_.verdict() != nullptr ? "leads subtracted" : "leads included") +
            ", drawn as a contact.</p>\n<div "
            "class=\"picture\">" +
            matrix_picture(view_) + "</div>\n";
    if (is_learning(record_)) return;  // there are no limits
    heading("axis", "How far from the limits");
    out_ +=
        "<p class=\"lead\">Each reading with U, over the interval that it must lie in. The axis is "
        "logarithmic.</p>\n<div "
        "class=\"picture\">" +
        axis_picture(view_) + "</div>\n";
  }

  void remarks() {
    if (view_.verdict() == nullptr || view_.verdict()->remarks.empty()) return;
    heading("remarks", "Remarks");
    out_ += "<ul class=\"remarks\">\n";
    for (const std::string& remark : view_.verdict()->remarks) out_ += "<li>" + sentence(remark) + "</li>\n";
    out_ += "</ul>\n";
  }

  void how_measured() {
    heading("how", "How it was measured");
    out_ += "<div class=\"table\"><table class=\"facts\">\n<tbody>\n";
    for (const NamedFact& fact : view_.facts()) {
      const std::string value = fact.name.starts_with("Leads") ? number(fact.value) : html_safe(fact.value);
      out_ += fmt::format("<tr><th scope=\"row\">{}</th><td>{}</td></tr>\n", html_safe(fact.name),
                          fact.missing ? "<span class=\"missing\">" + value + "</span>" : value);
    }
    out_ += "</tbody>\n</table></div>\n";
    const auto happenings = view_.happenings();
    if (happenings.empty()) return;
    heading("happened", "Before and during the work");
    out_ +=
        "<div class=\"table\"><table>\n<thead><tr><th scope=\"col\">Time</th><th scope=\"col\">What</th><th "
        "scope=\"col\">Details</th></tr></thead>\n<tbody>\n";
    for (const Happening& h : happenings)
      out_ += fmt::format("<tr><td class=\"number\">{}</td><td>{}</td><td>{}</td></tr>\n", time_text(h.at),
                          html_safe(h.what), html_safe(h.details));
    out_ += "</tbody>\n</table></div>\n";
  }

  void readings() {
    const Verdict* verdict = view_.verdict();
    if (verdict == nullptr || verdict->findings.empty()) return;
    heading("readings", "Every reading");
    out_ += fmt::format(
        "<div class=\"table\"><table>\n<caption>In measuring order. U is expanded with k = "
        "{:g}. Contact of the probes: \xE2\x80\x9Cvalue read\xE2\x80\x9D proves it; "
        "\xE2\x80\x9Cwitnessed\xE2\x80\x9D: another position, probes left in place, read a value; "
        "\xE2\x80\x9Cstated only\xE2\x80\x9D: somebody says so.</caption>\n<thead><tr><th "
        "scope=\"col\">Pair</th><th scope=\"col\">Position</th><th scope=\"col\">Must be</th><th "
        "scope=\"col\">Meter "
        "showed</th><th scope=\"col\">Leads subtracted</th><th scope=\"col\">U</th><th "
        "scope=\"col\">Judged</th><th "
        "scope=\"col\">Contact</th></tr></thead>\n<tbody>\n",
        record_.header.k);
    for (const Finding& f : verdict->findings) {
      const Mark mark = view_.cell(f.expected.position, f.expected.pair).mark;
      const char* row_class = mark == Mark::fail        ? "fail"
                              : mark == Mark::undecided ? "undecided"
                              : mark == Mark::not_sound ? "not-sound"
                                                        : "pass";
      const double value = f.corrected.value_or(f.indication.value);
      out_ += fmt::format(
          "<tr class=\"{}\"><th scope=\"row\">{}\xE2\x80\x93{}</th><td>{}</td><td>{}</td><td "
          "class=\"number\">{}</td><td "
          "class=\"number\">{}</td><td class=\"number\">{}</td><td "
          "class=\"judged\">{}</td><td>{}</td></tr>\n",
          row_class, html_safe(f.expected.pair.first()), html_safe(f.expected.pair.second()),
          html_safe(view_.label(f.expected.position)), number(must_be(f.expected)),
          number(shown_text(f.indication)),
          f.corrected ? number(value_text(value, f.U, f.indication.quantity, f.indication.resolution)) : "",
          f.U ? number(uncertainty_text(value, *f.U, f.indication.quantity)) : "", word_for(mark),
          witness_words(f.witness));
    }
    out_ += "</tbody>\n</table></div>\n";
  }

  static const char* witness_words(Witness witness) {
    switch (witness) {
      case Witness::not_needed:
        return "value read";
      case Witness::witnessed:
        return "witnessed";
      case Witness::stated:
        return "stated only";
      case Witness::missing:
        return "not known";
    }
    return "";
  }

  void cautions() {
    out_ += "<section class=\"cautions\" aria-labelledby=\"cautions\">\n";
    heading("cautions", "Cautions");
    out_ += "<ul>\n";
    for (const std::string& caution : view_.cautions()) out_ += "<li>" + html_safe(caution) + "</li>\n";
    out_ += "</ul>\n</section>\n";
  }

  void further() {
    if (view_.verdict() == nullptr || !view_.verdict()->diagnosis) return;
    const auto lines = told_further(*view_.verdict()->diagnosis);
    if (lines.empty()) return;
    heading("further", "Further about the explanations");
    out_ += "<ul>\n";
    for (const std::string& line : lines) out_ += "<li>" + html_safe(line) + "</li>\n";
    out_ += "</ul>\n";
  }

  void provenance() {
    further();
    const RecordHeader& h = record_.header;
    heading("check", "Where the numbers come from, and how to check this report");
    out_ += "<p>The profile's values: " +
            (h.profile_values.empty() ? "<span class=\"missing\">not stated</span>"
                                      : html_safe(h.profile_values)) +
            ".</p>\n";
    out_ += "<p>Chain head, SHA-256 of the last of " + fmt::format("{}", record_.batches) +
            " batches:<br><code class=\"head\">" +
            (record_.chain_head.empty() ? "none: not stored" : html_safe(record_.chain_head)) +
            "</code></p>\n<ul>\n";
    for (const std::string& line : view_.how_to_check()) out_ += "<li>" + html_safe(line) + "</li>\n";
    out_ += "</ul>\n";
    file("The profile as used", h.profile_text);
    file("The meter definition as used", h.meter_text);
  }

  void file(const char* title, const std::string& text) {
    if (text.empty()) return;
    out_ += fmt::format("<details><summary>{}</summary><pre tabindex=\"0\">", title);
    std::size_t from = 0;
    while (from <= text.size()) {
      const auto to = std::min(text.find('\n', from), text.size());
      out_ += html_safe(std::string_view(text).substr(from, to - from)) + "\n";
      from = to + 1;
    }
    out_ += "</pre></details>\n";
  }

  const Record& record_;
  View view_;
  std::string out_;
};

class HtmlExporter final : public Exporter {
 public:
  std::string format() const override { return "html"; }
  std::string extension() const override { return ".html"; }
  std::string render(const Record& record) const override { return Page(record).whole(); }
};

}  // namespace

std::unique_ptr<Exporter> html_exporter() {
  return std::make_unique<HtmlExporter>();
}

}  // namespace switchwright
