#include "report/voltages.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <map>

#include "record/record_json.hpp"
#include "report/escape.hpp"
#include "switchwright/core/text.hpp"

namespace switchwright {

namespace {

/// Findings by place, pairs and positions in the order of measuring.
struct Grid {
  explicit Grid(const std::vector<VoltageFinding>& findings) {
    for (const VoltageFinding& f : findings) {
      if (std::find(positions.begin(), positions.end(), f.expected.position) == positions.end())
        positions.push_back(f.expected.position);
      if (std::find(pairs.begin(), pairs.end(), f.expected.pair) == pairs.end()) pairs.push_back(f.expected.pair);
      at[{f.expected.position, f.expected.pair}] = &f;
    }
  }
  const VoltageFinding* find(const std::string& position, const Pair& pair) const {
    const auto found = at.find({position, pair});
    return found == at.end() ? nullptr : found->second;
  }
  std::vector<std::string> positions;
  std::vector<Pair> pairs;
  std::map<std::pair<std::string, Pair>, const VoltageFinding*> at;
};

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
  return text + " The same at " + joined_with_and(elsewhere) + ".";
}

std::string must_be(const VoltageExpectation& expected) {
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
  const std::string U = uncertainty_text(*finding.volts, *finding.U, Quantity::voltage_ac);
  return fmt::format("({} +/- {}) V", value.substr(0, value.rfind(' ')), U.substr(0, U.rfind(' ')));
}

std::string voltages_as_text(const View& view) {
  const Verdict* verdict = view.verdict();
  if (verdict == nullptr || verdict->voltages.empty()) return {};
  const Grid grid{verdict->voltages};
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
  double largest_U = 0.0;
  for (const Pair& pair : grid.pairs) {
    line = fmt::format("  {:<{}}", line_safe(pair.text()), first);
    for (std::size_t i = 0; i < widths.size(); ++i) line += fmt::format("   {:<{}}", cell(grid.positions[i], pair), widths[i]);
    out += trimmed(line);
  }
  for (const VoltageFinding& finding : verdict->voltages) largest_U = std::max(largest_U, finding.U.value_or(0.0));
  return out + fmt::format("  X fails   ? undecided   U (k = {:g}) at most {}\n", view.record().header.k,
                           uncertainty_text(largest_U, largest_U, Quantity::voltage_ac));
}

std::string voltages_as_html(const View& view) {
  const Verdict* verdict = view.verdict();
  if (verdict == nullptr || verdict->voltages.empty()) return {};
  std::string out =
      "<h2 id=\"voltages\">Under power</h2>\n<div class=\"table\"><table>\n<caption>AC volts, supply and load connected as "
      "the profile says. Each with U, k = " +
      fmt::format("{:g}", view.record().header.k) +
      ".</caption>\n<thead><tr><th scope=\"col\">Pair</th><th scope=\"col\">Position</th><th scope=\"col\">Must be</th><th "
      "scope=\"col\">Read</th><th scope=\"col\">U</th><th scope=\"col\">Judged</th></tr></thead>\n<tbody>\n";
  const auto row = [&](const VoltageFinding& f, const std::string& where) {
    out += fmt::format(
        "<tr class=\"{}\"><th scope=\"row\">{}</th><td>{}</td><td>{}</td><td class=\"number\">{}</td><td "
        "class=\"number\">{}</td><td class=\"judged\">{}</td></tr>\n",
        word_for(f.outcome), dashed(f.expected.pair), html_safe(where), html_safe(must_be(f.expected)),
        html_safe(volts_text(f)), f.U && f.volts ? uncertainty_text(*f.volts, *f.U, Quantity::voltage_ac) : "",
        f.outcome == Outcome::fail ? "FAIL" : word_for(f.outcome));
  };
  const char* when[] = {"supply at the start", "supply at the end"};
  for (std::size_t i = 0; i < verdict->supply.size() && i < 2; ++i) row(verdict->supply[i], when[i]);
  for (const VoltageFinding& finding : verdict->voltages) row(finding, view.label(finding.expected.position));
  return out + "</tbody>\n</table></div>\n";
}

}  // namespace switchwright
