// What a verdict says, in HTML: its box, its scope, what deviates, what would explain it, what stays open.
#include <fmt/format.h>

#include <algorithm>

#include "core/escape.hpp"
#include "report/html_parts.hpp"
#include "report/svg.hpp"
#include "report/voltages.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/explain/diagnosis.hpp"
#include "switchwright/record/record_json.hpp"

namespace switchwright {

namespace {

constexpr std::size_t explained_on_screen = 5;

std::string heading(const char* id, const char* words) { return fmt::format("<h2 id=\"{}\">{}</h2>\n", id, words); }

/// The verdict as a shape: an octagon with a cross, a tick in a circle, a question mark in a dashed circle.
std::string verdict_shape(const std::string& word) {
  const auto svg_of = [](const std::string& inside) {
    return "<svg viewBox=\"0 0 76 76\" width=\"76\" height=\"76\" aria-hidden=\"true\">" + inside + "</svg>";
  };
  const std::string round = " stroke-linecap=\"round\" stroke-linejoin=\"round\"/>";
  if (word == "pass")
    return svg_of("<circle cx=\"38\" cy=\"38\" r=\"34\" " + svg::stroke(svg::Paint::pass, 6) +
                  "/><path d=\"M22 39 l11 12 l22 -26\" " + svg::stroke(svg::Paint::pass, 8) + round);
  if (word == "fail")
    return svg_of("<path d=\"M24 4 L52 4 L72 24 L72 52 L52 72 L24 72 L4 52 L4 24 Z\" " + svg::fill(svg::Paint::fail) +
                  "/><path d=\"M25 25 L51 51 M51 25 L25 51\" " + svg::stroke(svg::Paint::paper, 8) + round);
  if (word == "learned")
    return svg_of("<circle cx=\"38\" cy=\"38\" r=\"34\" " + svg::stroke(svg::Paint::muted, 6) +
                  "/><path d=\"M22 28 H54 M22 38 H54 M22 48 H42\" " + svg::stroke(svg::Paint::muted, 6) + round);
  const svg::Paint paint = word == "undecided" ? svg::Paint::undecided : svg::Paint::muted;
  return svg_of("<circle cx=\"38\" cy=\"38\" r=\"34\" " + svg::stroke(paint, 6) +
                " stroke-dasharray=\"12 7\"/><path d=\"M28 29 a10 10 0 1 1 14 9 q-4 2 -4 8\" " + svg::stroke(paint, 6) +
                round + "<circle cx=\"38\" cy=\"56\" r=\"4\" " + svg::fill(paint) + "/>");
}

std::string deviation(const View& view, const Group& group, Medium medium) {
  const Finding& first = group.first();
  const bool only_sound = first.continuity != Outcome::fail && first.sound == Outcome::fail;
  std::vector<std::string> positions, results;
  for (const Finding* f : group.findings) {
    positions.push_back(view.label(f->expected.position));
    const std::string result = result_text(*f);
    if (std::find(results.begin(), results.end(), result) == results.end()) results.push_back(result);
  }
  const std::string limit = only_sound && first.expected.sound_max_ohm
                                ? "at most " + human_ohm(*first.expected.sound_max_ohm) + " to be sound"
                                : must_be(first.expected);
  return fmt::format(
      "<li{}><div class=\"severity\">{}{}</div><p class=\"sentence\">{}</p><p class=\"numbers\"><b>{}</b> at {} &middot; read "
      "<b>{}</b> &middot; must be <b>{}</b>{}</p></li>\n",
      only_sound ? " class=\"not-sound\"" : "", first.severity ? word_for(*first.severity) : "",
      only_sound ? " &middot; not sound" : "", sentence_html(medium.told(view.told(group), &PaperRoom::sentence_text)),
      pair_html(first.expected.pair), html_safe(medium.told(joined_with_and(positions), &PaperRoom::sentence_text)),
      sentence_html(medium.told(joined_with_and(results), &PaperRoom::sentence_text)), sentence_html(limit),
      first.continuity == Outcome::undecided ? " &middot; " + sentence_html(must_be(first.expected)) + ": undecided"
                                             : "");
}

std::string deviation(const View& view, const VoltageGroup& group, Medium medium) {
  const VoltageFinding& first = group.first();
  std::vector<std::string> positions;
  for (const VoltageFinding* f : group.findings) positions.push_back(view.label(f->expected.position));
  return fmt::format(
      "<li><div class=\"severity\">{}</div><p class=\"sentence\">{}</p><p class=\"numbers\"><b>{}</b> at {} &middot; read "
      "<b>{}</b> &middot; must be <b>{}</b></p></li>\n",
      first.severity ? word_for(*first.severity) : "",
      sentence_html(medium.told(told(view, group), &PaperRoom::sentence_text)), pair_html(first.expected.pair),
      html_safe(medium.told(joined_with_and(positions), &PaperRoom::sentence_text)), sentence_html(result_text(first)),
      sentence_html(must_be(first.expected)));
}

std::string codes(const std::vector<std::string>& faults) {
  constexpr std::size_t most = 4;
  std::string text;
  for (std::size_t i = 0; i < std::min(most, faults.size()); ++i)
    text += (i == 0 ? "<code>" : ", <code>") + html_safe(faults[i]) + "</code>";
  return faults.size() > most ? text + fmt::format(" and {} more", faults.size() - most) : text;
}

std::string inspection(const Verdict& verdict, Medium medium) {
  if (verdict.inspection.empty()) return {};
  std::string out =
      heading("inspection", "Inspection by eye and hand") +
      "<div class=\"table\"><table class=\"inspection\">\n<thead><tr><th scope=\"col\">Question</th><th scope=\"col\">Answer</th><th "
      "scope=\"col\">If not</th><th scope=\"col\">Note</th></tr></thead>\n<tbody>\n";
  // On paper what was not answered with yes comes first.
  std::vector<const InspectionFinding*> rows;
  for (const InspectionFinding& i : verdict.inspection) rows.push_back(&i);
  const std::size_t most = medium.most(&PaperRoom::rows, rows.size());
  if (most < rows.size())
    std::stable_partition(rows.begin(), rows.end(), [](const InspectionFinding* i) { return i->answer != true; });
  rows.resize(most);
  for (const InspectionFinding* row : rows) {
    const InspectionFinding& i = *row;
    out += fmt::format("<tr{}><td>{}</td><td class=\"judged\">{}</td><td>{}</td><td>{}</td></tr>\n",
                       i.answer == false ? " class=\"fail\""
                       : i.answer        ? ""
                                         : " class=\"undecided\"",
                       html_safe(medium.told(i.question.ask, &PaperRoom::sentence_text)),
                       !i.answer   ? "not answered"
                       : *i.answer ? "yes"
                                   : "NO",
                       word_for(i.question.severity), html_safe(medium.told(i.note, &PaperRoom::note_text)));
  }
  return out + "</tbody>\n</table></div>\n" + and_more(verdict.inspection.size() - most, "questions", "report.html");
}

std::string list_of(const std::vector<std::string>& items, Medium medium) {
  const std::size_t most = medium.most(&PaperRoom::list_items, items.size());
  std::string out = "<ul class=\"compact\">\n";
  for (std::size_t i = 0; i < most; ++i) out += "<li>" + items[i] + "</li>\n";
  if (items.size() > most)
    out +=
        fmt::format("<li>and {} more, listed in report.html and in results.csv of the bag</li>\n", items.size() - most);
  return out + "</ul>\n";
}

}  // namespace

std::string sentence_html(const std::string& text) { return html_safe(svg::with_signs(text)); }

std::string upper_first(std::string text) {
  if (!text.empty() && text[0] >= 'a' && text[0] <= 'z') text[0] = static_cast<char>(text[0] - 'a' + 'A');
  return text;
}

std::string and_more(std::size_t count, const char* what, const char* where) {
  return count == 0 ? std::string{}
                    : fmt::format("<p><b>And {} more {}</b>, in {} of the bag.</p>\n", count, what, where);
}

std::string pair_html(const Pair& pair) { return html_safe(pair.first() + "\xE2\x80\x93" + pair.second()); }

std::string verdict_box_html(const View& view, Medium medium) {
  const std::string word = view.verdict_word();
  return "<div class=\"verdict " + word + "\"><div class=\"shape\">" + verdict_shape(word) + "</div><div><h1>" +
         html_safe(view.title()) + "</h1><p>" + sentence_html(medium.told(view.headline(), &PaperRoom::sentence_text)) +
         "</p></div></div>\n";
}

std::string scope_told(const ScopeRow& row, Medium medium) {
  const bool brief = medium == Medium::paper && medium.level() == Medium::briefest;
  return medium.told(sentences({row.reason, row.how}), brief ? &PaperRoom::fact_text : &PaperRoom::sentence_text);
}

std::string scope_html(const View& view, Medium medium) {
  const auto rows = view.scope();
  if (rows.empty()) return {};
  std::string out =
      heading("scope", "What this verdict covers") + "<div class=\"table\"><table class=\"facts\">\n<tbody>\n";
  std::vector<std::string> not_asked;
  for (const ScopeRow& row : rows) {
    if (medium == Medium::paper && row.decided == "not asked for") {
      not_asked.push_back(row.part);
      continue;
    }
    out +=
        fmt::format("<tr><th scope=\"row\">{}</th><td class=\"judged\">{}</td><td>{}</td></tr>\n",
                    upper_first(html_safe(row.part)), html_safe(row.decided), sentence_html(scope_told(row, medium)));
  }
  if (!not_asked.empty())
    out += "<tr><th scope=\"row\">Not asked for</th><td class=\"judged\"></td><td>" +
           html_safe(joined_with_and(not_asked)) + ": this verdict says nothing about them.</td></tr>\n";
  return out + "</tbody>\n</table></div>\n";
}

std::string nothing_deviates_html(const View& view) {
  return view.verdict_word() == "pass"
             ? "<p class=\"fine\">Nothing that was measured deviates.</p>\n"
             : "<p>Nothing that could be decided deviates; what is not decided stands above.</p>\n";
}

std::vector<std::string> deviation_items(const View& view, Medium medium) {
  std::vector<std::string> items;
  for (const Group& group : view.deviations()) items.push_back(deviation(view, group, medium));
  for (const VoltageGroup& group : voltage_deviations(view)) items.push_back(deviation(view, group, medium));
  return items;
}

std::string deviations_html(const View& view, const std::vector<std::string>& items, Medium medium, std::size_t most) {
  const Verdict* verdict = view.verdict();
  if (verdict == nullptr) return {};
  std::string out = heading("deviations", "What deviates");
  if (items.empty())
    return out + (verdict->findings.empty() && verdict->voltages.empty() ? "<p>Nothing of the part was judged.</p>\n"
                                                                         : nothing_deviates_html(view));
  out += deviation_list_html(items, most);
  if (medium == Medium::paper && medium.level() < Medium::briefest && verdict->diagnosis &&
      !verdict->diagnosis->explanations.empty()) {
    const ExplainedFault& first = verdict->diagnosis->explanations.front();
    out += fmt::format("<p class=\"next\">Most likely: {} ({}, given assumed fault frequencies).</p>\n",
                       sentence_html(medium.told(first.words, &PaperRoom::sentence_text)),
                       html_safe(percent_text(first.probability)));
  }
  return out;
}

std::string deviation_list_html(const std::vector<std::string>& items, std::size_t most) {
  const std::size_t here = std::min(most, items.size());
  std::string out = "<ul class=\"deviations\">\n";
  for (std::size_t i = 0; i < here; ++i) out += items[i];
  out += "</ul>\n";
  if (items.size() > here) out += fmt::format("<p><b>And {} more, on the next page.</b></p>\n", items.size() - here);
  return out;
}

std::string more_deviations_html(const std::vector<std::string>& items, Medium medium, std::size_t shown) {
  if (items.size() <= shown) return {};
  const std::size_t end = std::max(shown, medium.most(&PaperRoom::deviations, items.size()));
  std::string out = heading("deviations-more", "What deviates, continued") + "<ul class=\"deviations\">\n";
  for (std::size_t i = shown; i < end; ++i) out += items[i];
  return out + "</ul>\n" + and_more(items.size() - end, "that deviate", "report.html");
}

/// Each explanation with its probability as a bar; the first in full.
std::string explanations_html(const View& view, Medium medium) {
  if (view.verdict() == nullptr || !view.verdict()->diagnosis) return {};
  const DiagnosisSummary& diagnosis = *view.verdict()->diagnosis;
  std::string out = heading("explanations", "What explains the readings");
  if (!diagnosis.explanations.empty())
    out += "<p class=\"lead\">The probabilities rest on assumed fault frequencies, not on counted ones" +
           (diagnosis.assumed.empty() ? "." : ": " + sentence_html(diagnosis.assumed)) + "</p>\n";
  out += "<ol class=\"explanations\">\n";
  const std::size_t most = medium == Medium::paper ? medium.room().explanations : explained_on_screen;
  std::size_t shown = 0;
  for (const ExplainedFault& e : diagnosis.explanations) {
    if (++shown > most) break;
    out += fmt::format(
        "<li><p class=\"sentence\"><span class=\"share\">{}</span> {} <code>{}</code></p>"
        "<div class=\"bar\" aria-hidden=\"true\"><i style=\"width:{:.1f}%\"></i></div>",
        html_safe(percent_text(e.probability)),
        sentence_html(medium.told(upper_first(e.words), &PaperRoom::sentence_text)),
        html_safe(medium.told(e.fault, &PaperRoom::sentence_text)), 100.0 * e.probability);
    if (shown > 1 && e.probability < 0.05) {  // named, and that is all
      out += "</li>\n";
      continue;
    }
    for (const Consequence& c : e.consequences)
      out += fmt::format(
          "<p><b>{}.</b> {}{}</p>", upper_first(word_for(c.severity)),
          html_safe(medium.told(c.means, &PaperRoom::sentence_text)),
          shown == 1 ? "<br><b>To do.</b> " + html_safe(medium.told(c.next, &PaperRoom::sentence_text)) : "");
    if (!e.same_readings_as.empty())
      out += "<p class=\"numbers\">These readings cannot tell it from " + codes(e.same_readings_as) + ".</p>";
    out += "</li>\n";
  }
  out += "</ol>\n";
  if (diagnosis.next)
    out += fmt::format("<p class=\"next\">Measure next, it tells most: <b>{}</b> at {}.</p>\n",
                       pair_html(diagnosis.next->pair), html_safe(view.label(diagnosis.next->position)));
  if (medium == Medium::paper) return out;
  const auto further = told_further(diagnosis);
  if (further.empty()) return out;
  out += heading("further", "Further about the explanations") + "<ul>\n";
  for (const std::string& line : further) out += "<li>" + sentence_html(line) + "</li>\n";
  return out + "</ul>\n";
}

std::string open_points_html(const View& view, Medium medium) {
  const Verdict* verdict = view.verdict();
  if (verdict == nullptr) return {};
  std::string out;
  std::vector<std::string> items;
  const auto told_here = [&](const std::string& text) {
    return sentence_html(medium.told(text, &PaperRoom::sentence_text));
  };
  for (const Group& group : view.undecided()) items.push_back(told_here(view.told(group)));
  for (const VoltageGroup& group : undecided_voltages(view)) items.push_back(told_here(told(view, group)));
  if (!items.empty()) out += heading("undecided", "What is not decided") + list_of(items, medium);
  if (!verdict->voltages_not_measured.empty())
    out += fmt::format("<p>Under power, {} voltages were not measured.</p>\n", verdict->voltages_not_measured.size());
  items.clear();
  for (const Expectation& e : verdict->not_measured)
    items.push_back(pair_html(e.pair) + " at " + html_safe(view.label(e.position)) +
                    (e.reason.empty() ? "" : ": " + told_here(e.reason)));
  if (!items.empty()) out += heading("not-measured", "What was not measured") + list_of(items, medium);
  items.clear();
  for (const LeftOutRow& row : left_out_rows(view, *verdict))
    items.push_back(pair_html(row.pair) + " at " + told_here(joined_with_and(row.positions)));
  if (!items.empty()) out += heading("left-out", "What the plan left out") + list_of(items, medium);
  items.clear();
  for (const StatedFinding& f : verdict->stated)
    items.push_back("<b>" + upper_first(word_for(f.outcome)) + ".</b> " + told_here(f.sentence));
  if (!items.empty()) out += heading("stated", "Stated, from other instruments") + list_of(items, medium);
  return out + inspection(*verdict, medium);
}

std::string remarks_html(const View& view, Medium medium) {
  if (view.verdict() == nullptr || view.verdict()->remarks.empty()) return {};
  std::vector<std::string> once;
  for (const std::string& remark : view.verdict()->remarks)
    if (std::find(once.begin(), once.end(), remark) == once.end()) once.push_back(remark);
  std::string out = heading("remarks", "Remarks") + "<ul class=\"remarks\">\n";
  const std::size_t most = medium.most(&PaperRoom::rows, once.size());
  for (std::size_t i = 0; i < most; ++i)
    out += "<li>" + sentence_html(medium.told(once[i], &PaperRoom::sentence_text)) + "</li>\n";
  return out + "</ul>\n" + and_more(once.size() - most, "remarks", "report.html");
}

}  // namespace switchwright
