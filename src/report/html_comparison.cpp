// Two records side by side: before and after a repair, or ours against the supplier's. What moved by more than both
// uncertainties together is marked (the uncertainty of a difference, JCGM 100 5.1.2).
#include <fmt/format.h>

#include <cmath>

#include "core/escape.hpp"
#include "report/html_page.hpp"
#include "switchwright/analysis/trace_analysis.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/report/cycling.hpp"

namespace switchwright {

namespace {

std::string reading_of(const Cell& cell) {
  if (cell.finding == nullptr) return word_for(cell.mark);
  return sentence_html(result_text(*cell.finding)) + ", <b>" + word_for(cell.mark) + "</b>";
}

/// "more by 0.8 ohm", "opened", or nothing when the two agree within their uncertainty.
std::string change_between(const Cell& before, const Cell& after) {
  if (before.finding == nullptr || after.finding == nullptr)
    return before.mark == after.mark ? "" : "measured once only";
  const Finding &a = *before.finding, &b = *after.finding;
  if (a.indication.state != b.indication.state)
    return b.indication.state == ReadingState::over_range ? "open now" : "reads a value now";
  if (a.indication.state != ReadingState::finite || !a.U || !b.U)
    return before.mark == after.mark ? "" : "judged otherwise";
  const double change = b.corrected.value_or(b.indication.value) - a.corrected.value_or(a.indication.value);
  const double U = std::hypot(*a.U, *b.U);
  if (std::abs(change) <= U) return before.mark == after.mark ? "" : "judged otherwise, within U";
  return (change > 0 ? "more by " : "less by ") +
         value_text(std::abs(change), U, b.indication.quantity,
                    std::max(a.indication.resolution, b.indication.resolution));
}

std::string two_columns(const std::string& first, const std::string& second) {
  return "<table class=\"halves\"><tbody><tr><td class=\"half\">" + first + "</td><td class=\"half\">" + second +
         "</td></tr></tbody></table>\n";
}

std::string column_of(const Record& record, const View& view) {
  std::string out = warnings_html(record) + verdict_box_html(view, Medium::screen) + "<table class=\"facts\"><tbody>\n";
  for (const NamedFact& fact : view.identity())
    out += fmt::format(
        "<tr><th scope=\"row\">{}</th><td>{}</td></tr>\n", html_safe(fact.name),
        fact.missing ? "<span class=\"missing\">" + sentence_html(fact.value) + "</span>" : sentence_html(fact.value));
  return out + fmt::format("<tr><th scope=\"row\">Record</th><td>{}</td></tr></tbody></table>\n",
                           html_safe(record.header.id));
}

std::string readings_compared(const View& first, const View& second) {
  std::string rows;
  std::size_t alike = 0;
  for (const Pair& pair : first.pairs())
    for (const std::string& position : first.positions()) {
      const Cell a = first.cell(position, pair), b = second.cell(position, pair);
      if (a.mark == Mark::none && b.mark == Mark::none) continue;
      const std::string change = change_between(a, b);
      const bool fine =
          (a.mark == Mark::pass || a.mark == Mark::none) && (b.mark == Mark::pass || b.mark == Mark::none);
      if (change.empty() && fine) {
        ++alike;
        continue;
      }
      rows += fmt::format(
          "<tr class=\"{}\"><th scope=\"row\">{}</th><td>{}</td><td>{}</td><td>{}</td><td class=\"judged\">{}</td></tr>\n",
          change.empty()         ? ""
          : b.mark == Mark::fail ? "fail"
                                 : "undecided",
          pair_html(pair), html_safe(first.label(position)), reading_of(a), reading_of(b), sentence_html(change));
    }
  std::string out = "<h2 id=\"readings\">Readings that differ, or that do not pass</h2>\n";
  if (rows.empty())
    out += "<p class=\"fine\">None: both records agree within their uncertainties, and everything passes.</p>\n";
  else
    out +=
        "<table>\n<thead><tr><th scope=\"col\">Pair</th><th scope=\"col\">Position</th><th scope=\"col\">Left record</th><th "
        "scope=\"col\">Right record</th><th scope=\"col\">Change</th></tr></thead>\n<tbody>\n" +
        rows + "</tbody></table>\n";
  return out +
         fmt::format("<p class=\"lead\">{} further readings pass in both and agree within their uncertainties.</p>\n",
                     alike);
}

std::string figure_row(const std::string& name, const Figure& a, const Figure& b, bool duty) {
  if (!a.mean && !b.mean) return {};
  const double factor = duty ? 100.0 : 1.0;
  const auto text = [&](const Figure& f) {
    return f.mean ? sentence_html(with_uncertainty(*f.mean * factor, f.U ? std::optional{*f.U * factor} : std::nullopt,
                                                   duty ? "%" : "s"))
                  : std::string("not seen");
  };
  std::string change;
  if (a.mean && b.mean && a.U && b.U) {
    const double by = (*b.mean - *a.mean) * factor, U = std::hypot(*a.U, *b.U) * factor;
    if (std::abs(by) > U) {
      const std::string size = with_uncertainty(std::abs(by), U, duty ? "%" : "s");
      change = (by > 0 ? "more by " : "less by ") + size;
    } else {
      change = "none beyond U";
    }
  }
  return fmt::format(
      "<tr><th scope=\"row\">{}</th><td class=\"number\">{}</td><td class=\"number\">{}</td><td>{}</td></tr>\n", name,
      text(a), text(b), sentence_html(change));
}

std::string traces_compared(const Record& first, const Record& second) {
  const TraceAnalysis a = reported_trace(first), b = reported_trace(second);
  std::string out = "<h2 id=\"figures\">Times</h2>\n";
  for (const TraceChannelAnalysis& left : a.channels)
    for (const TraceChannelAnalysis& right : b.channels) {
      if (left.name != right.name) continue;
      const bool steady = left.told().steady.cycles > 0 && right.told().steady.cycles > 0;
      const CycleFigures& l = steady ? left.told().steady : left.told().all;
      const CycleFigures& r = steady ? right.told().steady : right.told().all;
      out +=
          "<table>\n<caption>" + html_safe(left.name) + (steady ? ", steady part. " : ", all cycles. ") +
          html_safe(coverage_words()) +
          "</caption>\n<thead><tr><th scope=\"col\"></th><th scope=\"col\">Left record</th><th scope=\"col\">Right record</th><th "
          "scope=\"col\">Change</th></tr></thead><tbody>\n" +
          figure_row("On time", l.on_s, r.on_s, false) + figure_row("Off time", l.off_s, r.off_s, false) +
          figure_row("Period", l.period_s, r.period_s, false) + figure_row("Duty", l.duty, r.duty, true) +
          "</tbody></table>\n";
    }
  return out;
}

}  // namespace

std::string comparison_page(const Record& first, const Record& second, Medium medium, Paper paper) {
  if (is_trace(first) != is_trace(second))
    throw Error(ErrorKind::usage, "a trace and a qualification have nothing that can be compared",
                first.header.id + ", " + second.header.id, "name two of one kind, or join them with --kind claim");
  if (first.header.profile_id != second.header.profile_id)
    throw Error(ErrorKind::usage,
                "the two records were made with different profiles, " + first.header.profile_id + " and " +
                    second.header.profile_id,
                first.header.id + ", " + second.header.id, "compare records of one profile");
  const View left(first), right(second);
  std::string out =
      page_head("Comparison: " + first.header.id + " and " + second.header.id, {&first, &second}, medium, paper);
  out += "<header>\n<h1>Comparison of two records</h1>\n</header>\n<main>\n" +
         two_columns(column_of(first, left), column_of(second, right));
  out += is_trace(first) ? traces_compared(first, second) : readings_compared(left, right);
  out +=
      "<p>A change is named where it is larger than the uncertainty of the difference, the root of the sum of the squares of both U "
      "(JCGM 100, 5.1.2).</p>\n";
  return out + signing_html({&second}) + page_end(first, medium);
}

}  // namespace switchwright
