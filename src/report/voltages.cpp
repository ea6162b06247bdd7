#include "report/voltages.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "core/escape.hpp"
#include "report/picture.hpp"
#include "report/voltage_grid.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/record/record_json.hpp"

namespace switchwright {

namespace {

std::vector<VoltageGroup> grouped(const std::vector<const VoltageFinding*>& findings) {
  std::vector<VoltageGroup> groups;
  for (const VoltageFinding* finding : findings) {
    const auto same = std::find_if(groups.begin(), groups.end(), [&](const VoltageGroup& group) {
      const VoltageFinding& first = group.first();
      return first.expected.pair == finding->expected.pair && first.kind == finding->kind &&
             first.severity == finding->severity && first.outcome == finding->outcome;
    });
    if (same == groups.end())
      groups.push_back({{finding}});
    else
      same->findings.push_back(finding);
  }
  return groups;
}

std::string volts_text(const VoltageFinding& finding) {
  if (!finding.volts) return shown_text(finding.indication);
  return value_text(*finding.volts, finding.U, Quantity::voltage_ac, finding.indication.resolution);
}

std::string limit(double value) {
  return value < 10.0 ? fmt::format("{:.3g} V", value) : fmt::format("{:.1f} V", value);
}

const char* mark_of(const VoltageFinding& finding) {
  return finding.outcome == Outcome::fail ? "X " : finding.outcome == Outcome::undecided ? "? " : "  ";
}

std::string supply_sentence(const Verdict& verdict) {
  if (verdict.supply.empty()) return "The supply was not read.";
  std::string text = "The supply read " + html_safe(volts_text(verdict.supply.front())) + " at the start";
  text += verdict.supply.size() > 1 ? " and " + html_safe(volts_text(verdict.supply[1])) + " at the end."
                                    : "; at the end it was not read.";
  return text;
}

std::string table_of(const View& view, const Verdict& verdict) {
  const VoltageGrid grid{verdict.voltages};
  const auto cell = [&](const std::string& position, const Pair& pair) {
    const VoltageFinding* finding = grid.find(position, pair);
    return finding == nullptr ? std::string{} : mark_of(*finding) + volts_text(*finding);
  };
  std::size_t first = 4;
  for (const Pair& pair : grid.pairs) first = std::max(first, line_safe(pair.text()).size());
  std::vector<std::size_t> widths;
  for (const std::string& position : grid.positions) {
    std::size_t most = line_safe(view.label(position)).size() + 2;
    for (const Pair& pair : grid.pairs) most = std::max(most, cell(position, pair).size());
    widths.push_back(most);
  }
  const auto trimmed = [](std::string line) {
    line.erase(line.find_last_not_of(' ') + 1);
    return line + "\n";
  };
  std::string line = fmt::format("  {:<{}}", "pair", first);
  for (std::size_t i = 0; i < widths.size(); ++i)
    line += fmt::format("   {:<{}}", "  " + line_safe(view.label(grid.positions[i])), widths[i]);
  std::string out = trimmed(line);
  for (const Pair& pair : grid.pairs) {
    line = fmt::format("  {:<{}}", line_safe(pair.text()), first);
    for (std::size_t i = 0; i < widths.size(); ++i)
      line += fmt::format("   {:<{}}", cell(grid.positions[i], pair), widths[i]);
    out += trimmed(line);
  }
  return out;
}

std::string dashed(const Pair& pair) { return html_safe(pair.first() + "\xE2\x80\x93" + pair.second()); }

}  // namespace

std::vector<VoltageGroup> voltage_deviations(const View& view) {
  return view.verdict() == nullptr ? std::vector<VoltageGroup>{} : grouped(view.verdict()->voltage_deviations());
}

std::vector<VoltageGroup> undecided_voltages(const View& view) {
  std::vector<const VoltageFinding*> list;
  if (view.verdict() != nullptr)
    for (const VoltageFinding& finding : view.verdict()->voltages)
      if (finding.outcome == Outcome::undecided) list.push_back(&finding);
  return grouped(list);
}

std::string told(const View& view, const VoltageGroup& group) {
  std::string text = group.first().sentence;
  if (group.findings.size() == 1) return text;
  std::vector<std::string> elsewhere;
  for (const VoltageFinding* finding : group.findings)
    if (finding != &group.first())
      elsewhere.push_back(view.label(finding->expected.position) + " " + volts_text(*finding));
  return sentences({text, "The same at " + joined_with_and(elsewhere)});
}

std::string must_be(const VoltageExpectation& expected) {
  if (expected.state == VoltageState::unsolved) return "not known";
  if (expected.state == VoltageState::not_checked)
    return expected.stray_max_v ? "off, stray at most " + limit(*expected.stray_max_v) : "not checked";
  std::vector<std::string> bands;
  for (const Interval& band : expected.bands)
    bands.push_back(band.min > 0.0 ? "live, " + limit(band.min) + " to " + limit(band.max)
                                   : "dead, at most " + limit(band.max));
  return fmt::format("{}", fmt::join(bands, ", or "));
}

std::string result_text(const VoltageFinding& finding) {
  if (!finding.volts) return shown_text(finding.indication);
  if (!finding.U) return volts_text(finding);
  const std::string value = volts_text(finding);
  const std::string U =
      uncertainty_text(*finding.volts, *finding.U, Quantity::voltage_ac, finding.indication.resolution);
  return fmt::format("({} +/- {}) V", value.substr(0, value.rfind(' ')), U.substr(0, U.rfind(' ')));
}

std::string voltages_as_text(const View& view) {
  const Verdict* verdict = view.verdict();
  if (verdict == nullptr || !verdict->has_powered_part()) return {};
  std::string out = verdict->voltages.empty() ? "  No voltage of the part was read.\n" : table_of(view, *verdict);
  const char* when[] = {"at the start", "at the end"};
  for (std::size_t i = 0; i < verdict->supply.size() && i < 2; ++i)
    out += fmt::format("  supply {} {}{}\n", when[i], mark_of(verdict->supply[i]), volts_text(verdict->supply[i]));
  double largest_U = 0.0;
  for (const VoltageFinding& finding : verdict->voltages) largest_U = std::max(largest_U, finding.U.value_or(0.0));
  for (const VoltageFinding& finding : verdict->supply) largest_U = std::max(largest_U, finding.U.value_or(0.0));
  return out + fmt::format("  X fails   ? undecided   U (k = {:g}) at most {}\n", view.record().header.k,
                           uncertainty_text(largest_U, largest_U, Quantity::voltage_ac));
}

std::string voltages_as_html(const View& view, Medium medium) {
  const Verdict* verdict = view.verdict();
  if (verdict == nullptr || !verdict->has_powered_part()) return {};
  std::string out =
      "<h2 id=\"voltages\">Under power</h2>\n<p class=\"lead\">AC volts, supply and load connected as the profile "
      "says. " +
      supply_sentence(*verdict) + "</p>\n";
  if (!verdict->voltages.empty())
    out += "<div class=\"picture\">" +
           voltage_picture(view, medium.most(&PaperRoom::picture_rows, verdict->voltages.size())) + "</div>\n";
  out +=
      "<details open><summary>Every voltage</summary>\n<div class=\"table\"><table class=\"dense\">\n<caption>Each with U, "
      "k = " +
      fmt::format("{:g}", view.record().header.k) +
      ".</caption>\n<thead><tr><th scope=\"col\">Pair</th><th scope=\"col\">Position</th><th scope=\"col\">Must be</th><th "
      "scope=\"col\">Read</th><th scope=\"col\">U</th><th scope=\"col\">Judged</th></tr></thead>\n<tbody>\n";
  const auto row = [&](const VoltageFinding& f, const std::string& where) {
    out += fmt::format(
        "<tr class=\"{}\"><th scope=\"row\">{}</th><td>{}</td><td>{}</td><td class=\"number\">{}</td><td "
        "class=\"number\">{}</td><td class=\"judged\">{}</td></tr>\n",
        word_for(f.outcome), dashed(f.expected.pair), html_safe(where), html_safe(must_be(f.expected)),
        html_safe(volts_text(f)),
        f.U && f.volts ? uncertainty_text(*f.volts, *f.U, Quantity::voltage_ac, f.indication.resolution) : "",
        f.outcome == Outcome::fail ? "FAIL" : word_for(f.outcome));
  };
  const char* when[] = {"supply at the start", "supply at the end"};
  for (std::size_t i = 0; i < verdict->supply.size() && i < 2; ++i) row(verdict->supply[i], when[i]);
  std::vector<const VoltageFinding*> all;
  for (const VoltageFinding& finding : verdict->voltages) all.push_back(&finding);
  const std::size_t most = medium.most(&PaperRoom::voltages, all.size()), left_out = all.size() - most;
  if (left_out > 0)
    std::stable_partition(all.begin(), all.end(), [](const VoltageFinding* f) { return f->outcome != Outcome::pass; });
  all.resize(most);
  for (const VoltageFinding* finding : all) row(*finding, view.label(finding->expected.position));
  out += "</tbody>\n</table></div>\n</details>\n";
  if (left_out > 0)
    out += fmt::format(
        "<p><b>And {} more voltages</b>, in results.csv of the bag; those that do not pass stand first.</p>\n",
        left_out);
  return out;
}

}  // namespace switchwright
