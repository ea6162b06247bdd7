// Every reading and how it was measured, in HTML.
#include <fmt/format.h>

#include <algorithm>
#include <set>

#include "core/escape.hpp"
#include "report/guided.hpp"
#include "report/html_parts.hpp"
#include "report/svg.hpp"
#include "switchwright/core/text.hpp"

namespace switchwright {

namespace {

std::string heading(const char* id, const std::string& words) {
  return fmt::format("<h2 id=\"{}\">{}</h2>\n", id, words);
}

const char* row_class(Mark mark) {
  return mark == Mark::fail        ? "fail"
         : mark == Mark::undecided ? "undecided"
         : mark == Mark::not_sound ? "not-sound"
                                   : "pass";
}

const char* witness_words(Witness witness) {
  switch (witness) {
    case Witness::not_needed: return "value read";
    case Witness::witnessed: return "witnessed";
    case Witness::stated: return "stated only";
    case Witness::missing: return "not known";
  }
  return "";
}

/// "at most 2 ohm" -> "<= 2 ohm" and so on: a narrow column.
std::string short_must_be(const Expectation& e) {
  if (e.state == PairState::open) return "\xE2\x89\xA5 " + human_ohm(e.ohm.min);
  if (e.state == PairState::closed) return "\xE2\x89\xA4 " + human_ohm(e.ohm.max);
  // One unit is said once.
  const std::string low = human_ohm(e.ohm.min), high = human_ohm(e.ohm.max);
  const auto low_unit = low.find(' '), high_unit = high.find(' ');
  if (low_unit != std::string::npos && high_unit != std::string::npos && low.substr(low_unit) == high.substr(high_unit))
    return low.substr(0, low_unit) + "\xE2\x80\x93" + high;
  return low + " to " + high;
}

std::string short_result(const Finding& f) {
  if (f.indication.state == ReadingState::over_range)
    return f.indication.beyond ? "open, > " + human_value(*f.indication.beyond, f.indication.quantity) : "open";
  return result_text(f);
}

/// What is stated about contact is said once for each pair, whatever the number of positions.
std::string stated_contacts(const Verdict& verdict, Medium medium) {
  std::vector<std::string> stated, missing;
  for (const Finding& f : verdict.findings) {
    auto& list = f.witness == Witness::stated ? stated : missing;
    if (f.witness != Witness::stated && f.witness != Witness::missing) continue;
    const std::string pair = f.expected.pair.first() + "\xE2\x80\x93" + f.expected.pair.second();
    if (std::find(list.begin(), list.end(), pair) == list.end()) list.push_back(pair);
  }
  std::string out;
  if (!stated.empty())
    out += "<p><b>Contact of the probes stated by the operator, not witnessed by a reading:</b> " +
           html_safe(medium.told(joined_with_and(stated), &PaperRoom::sentence_text)) + ".</p>\n";
  if (!missing.empty())
    out += "<p><b>Contact of the probes not known:</b> " +
           html_safe(medium.told(joined_with_and(missing), &PaperRoom::sentence_text)) + ".</p>\n";
  return out;
}

std::string table_for_screen(const View& view, const Verdict& verdict) {
  std::string out =
      "<div class=\"table\"><table>\n<caption>In measuring order. Contact of the probes: \xE2\x80\x9Cvalue read\xE2\x80\x9D proves "
      "it; \xE2\x80\x9Cwitnessed\xE2\x80\x9D: another position, probes left in place, read a value.</caption>\n<thead><tr>";
  for (const char* column :
       {"Pair", "Position", "Must be", "Meter showed", "Leads subtracted", "U", "Judged", "Contact"})
    out += fmt::format("<th scope=\"col\">{}</th>", column);
  out += "</tr></thead>\n<tbody>\n";
  for (const Finding& f : verdict.findings) {
    const Mark mark = view.cell(f.expected.position, f.expected.pair).mark;
    const double value = f.corrected.value_or(f.indication.value);
    out += fmt::format(
        "<tr class=\"{}\"><th scope=\"row\">{}</th><td>{}</td><td>{}</td><td class=\"number\">{}</td><td class=\"number\">{}</td>"
        "<td class=\"number\">{}</td><td class=\"judged\">{}</td><td>{}</td></tr>\n",
        row_class(mark), pair_html(f.expected.pair), html_safe(view.label(f.expected.position)),
        sentence_html(must_be(f.expected)), sentence_html(shown_text(f.indication)),
        f.corrected ? sentence_html(value_text(value, f.U, f.indication.quantity, f.indication.resolution)) : "",
        f.U ? sentence_html(uncertainty_text(value, *f.U, f.indication.quantity, f.indication.resolution)) : "",
        word_for(mark), witness_words(f.witness));
  }
  return out + "</tbody>\n</table></div>\n";
}

/// Two columns, one line each: sixty readings on half a page. Where paper has no room for all, those that do not pass come first.
std::string table_for_paper(const View& view, const Verdict& verdict, Medium medium) {
  std::vector<const Finding*> findings;
  for (const Finding& f : verdict.findings) findings.push_back(&f);
  const std::size_t most = medium.most(&PaperRoom::readings, findings.size());
  const auto mark_of = [&](const Finding* f) { return view.cell(f->expected.position, f->expected.pair).mark; };
  if (most < findings.size())
    std::stable_sort(findings.begin(), findings.end(), [&](const Finding* a, const Finding* b) {
      const auto rank = [&](const Finding* f) {
        return mark_of(f) == Mark::fail ? 0 : mark_of(f) == Mark::pass ? 2 : 1;
      };
      return rank(a) < rank(b);
    });
  const auto not_passing =
      static_cast<std::size_t>(std::count_if(findings.begin() + static_cast<std::ptrdiff_t>(most), findings.end(),
                                             [&](const Finding* f) { return mark_of(f) != Mark::pass; }));
  const std::size_t left_out = findings.size() - most;
  findings.resize(most);
  const auto rows = [&](std::size_t from, std::size_t to) {
    std::string out = "<td class=\"half\"><table class=\"dense\"><thead><tr>";
    for (const char* column : {"Pair", "Position", "Must be", "Showed", "Result", "Judged"})
      out += fmt::format("<th scope=\"col\">{}</th>", column);
    out += "</tr></thead><tbody>\n";
    for (std::size_t i = from; i < to; ++i) {
      const Finding& f = *findings[i];
      const Mark mark = view.cell(f.expected.position, f.expected.pair).mark;
      out += fmt::format(
          "<tr class=\"{}\"><th scope=\"row\">{}</th><td>{}</td><td class=\"number\">{}</td><td class=\"number\">{}</td><td "
          "class=\"number\">{}</td><td class=\"judged\">{}{}</td></tr>\n",
          row_class(mark), pair_html(f.expected.pair), html_safe(view.label(f.expected.position)),
          sentence_html(short_must_be(f.expected)),
          f.indication.state == ReadingState::finite ? sentence_html(shown_text(f.indication)) : "",
          sentence_html(short_result(f)), word_for(mark), f.witness == Witness::witnessed ? " w" : "");
    }
    return out + "</tbody></table></td>";
  };
  // Pages break inside a table only between its rows: blocks of one page's height stand under each other.
  constexpr std::size_t rows_on_a_page = 60;
  std::string out =
      "<p class=\"lead\">" + std::string(left_out > 0 ? "Those that do not pass first" : "In measuring order") +
      ", leads subtracted. w: the probes' contact is witnessed by a value read at another "
      "position with the probes left in place. Where the meter showed over-range, the column is empty.</p>\n";
  for (std::size_t block = 0; block < findings.size(); block += 2 * rows_on_a_page) {
    const std::size_t end = std::min(findings.size(), block + 2 * rows_on_a_page);
    const std::size_t middle = block + (end - block + 1) / 2;
    out += "<table class=\"halves\"><tbody><tr>" + rows(block, middle) + rows(middle, end) + "</tr></tbody></table>\n";
  }
  if (left_out > 0)
    out +=
        fmt::format("<p><b>And {} more readings, {}</b>, in results.csv of the bag.</p>\n", left_out,
                    not_passing == 0 ? std::string("all pass") : fmt::format("{} of which do not pass", not_passing));
  return out;
}

}  // namespace

std::string fact_told(const NamedFact& fact, Medium medium) {
  if (medium == Medium::paper && fact.name == "Serial number") return shortened(fact.value, 320);
  return medium.told(fact.value, &PaperRoom::fact_text);
}

std::string facts_html(const std::vector<NamedFact>& facts, Medium medium) {
  const auto value_of = [&](const NamedFact& fact) {
    const std::string value = sentence_html(fact_told(fact, medium));
    return fact.missing ? "<span class=\"missing\">" + value + "</span>" : value;
  };
  if (medium == Medium::screen) {
    std::string out = "<div class=\"table\"><table class=\"facts\">\n<tbody>\n";
    for (const NamedFact& fact : facts)
      out += fmt::format("<tr><th scope=\"row\">{}</th><td>{}</td></tr>\n", html_safe(fact.name), value_of(fact));
    return out + "</tbody>\n</table></div>\n";
  }
  std::string out = "<table class=\"pairs\"><tbody>\n";
  bool left = true;
  for (const NamedFact& fact : facts) {
    const bool wide = fact_told(fact, medium).size() > 62;  // over both columns
    if (wide && !left) {
      out += "<th></th><td></td></tr>\n";
      left = true;
    }
    if (left) out += "<tr>";
    out += fmt::format("<th scope=\"row\">{}</th><td{}>{}</td>", html_safe(fact.name), wide ? " colspan=\"3\"" : "",
                       value_of(fact));
    if (wide || !left) out += "</tr>\n";
    left = wide || !left;
  }
  return out + (left ? "" : "<th></th><td></td></tr>\n") + "</tbody></table>\n";
}

std::string readings_html(const View& view, Medium medium) {
  const Verdict* verdict = view.verdict();
  if (verdict == nullptr || verdict->findings.empty()) return {};
  return heading("readings", fmt::format("Every reading, with U expanded by k = {:g}", view.record().header.k)) +
         (medium == Medium::paper ? table_for_paper(view, *verdict, medium) : table_for_screen(view, *verdict)) +
         stated_contacts(*verdict, medium);
}

std::string how_measured_html(const View& view, Medium medium) {
  const Record& record = view.record();
  std::vector<NamedFact> facts = view.facts();
  facts.erase(facts.begin(), facts.begin() + static_cast<std::ptrdiff_t>(view.identity().size()));  // on the first page
  std::string out = heading("how", "How it was measured") + facts_html(facts, medium);
  auto happenings = view.happenings();
  if (happenings.empty()) return out;
  const std::size_t most = medium.most(&PaperRoom::happenings, happenings.size()), left_out = happenings.size() - most;
  happenings.resize(most);
  out += heading("happened", "Before and during the work") +
         "<div class=\"table\"><table class=\"events\">\n<thead><tr><th scope=\"col\">Time (" +
         html_safe(zone_text(record.header)) +
         ")</th><th scope=\"col\">What</th><th scope=\"col\">Details</th></tr></thead>\n<tbody>\n";
  for (const Happening& h : happenings)
    out += fmt::format("<tr><td class=\"number\">{}</td><td>{}</td><td>{}</td></tr>\n",
                       local_time_text(h.at, record.header), html_safe(medium.told(h.what, &PaperRoom::note_text)),
                       sentence_html(medium.told(h.details, &PaperRoom::sentence_text)));
  out += "</tbody>\n</table></div>\n";
  return out + and_more(left_out, "events", "report.html");
}

}  // namespace switchwright
