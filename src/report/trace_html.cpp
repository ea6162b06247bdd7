// The trace in HTML: figures first, then the pictures they were taken from.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <memory>

#include "core/escape.hpp"
#include "report/html_parts.hpp"
#include "report/trace_view.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/report/cycle_picture.hpp"
#include "switchwright/report/cycling.hpp"

namespace switchwright {

namespace {

std::string cell(const std::string& text, const char* kind = "") {
  return fmt::format("<td{}>{}</td>", *kind ? fmt::format(" class=\"{}\"", kind) : "", text);
}

std::string heading(const char* id, const std::string& words) {
  return fmt::format("<h2 id=\"{}\">{}</h2>\n", id, words);
}

std::string value_with_U(double value, const std::optional<double>& U, const std::string& unit) {
  return sentence_html(with_uncertainty(value, U, unit));
}

std::string figure_row(const char* name, const Figure& figure, bool duty) {
  if (!figure.mean) return {};
  const double factor = duty ? 100.0 : 1.0;
  const std::string unit = duty ? "%" : "s";
  const auto plain = [&](const std::optional<double>& value) {
    if (!value) return std::string{};
    // The decimals of the mean with its U.
    const std::string shown =
        with_uncertainty(*value * factor, figure.U ? std::optional{*figure.U * factor} : std::nullopt, unit);
    return html_safe(shown.substr(0, shown.find(" +/-")));
  };
  std::string trend;
  if (figure.trend)
    trend = figure.trend->p < 0.01
                ? fmt::format("p = {:.2g}, {:+.2g} {} per cycle", figure.trend->p,
                              figure.trend->slope * factor / static_cast<double>(figure.trend->block), unit)
                : fmt::format("none (p = {:.2g})", figure.trend->p);
  return fmt::format("<tr><th scope=\"row\">{}</th>", name) +
         cell("<b>" +
                  value_with_U(*figure.mean * factor, figure.U ? std::optional{*figure.U * factor} : std::nullopt,
                               unit) +
                  "</b>",
              "number") +
         cell(plain(figure.sd), "number") + cell(plain(figure.median), "number") + cell(plain(figure.min), "number") +
         cell(plain(figure.max), "number") + cell(html_safe(trend)) + "</tr>\n";
}

std::string figures_table(const std::string& caption, const CycleFigures& figures) {
  if (!figures.period_s.mean) return {};
  return "<div class=\"table\"><table>\n<caption>" + html_safe(caption) +
         "</caption>\n<thead><tr><th scope=\"col\"></th><th scope=\"col\">Mean with U</th><th "
         "scope=\"col\">Standard "
         "deviation</th><th scope=\"col\">Median</th><th scope=\"col\">Smallest</th><th "
         "scope=\"col\">Largest</th><th "
         "scope=\"col\">Trend</th></tr></thead>\n<tbody>\n" +
         figure_row("On time", figures.on_s, false) + figure_row("Off time", figures.off_s, false) +
         figure_row("Period", figures.period_s, false) + figure_row("Duty", figures.duty, true) +
         "</tbody>\n</table></div>\n";
}

/// With the digit of the meter: a mean of many samples is not known better than one of them was shown.
std::string level_text(const std::optional<double>& level, const TraceChannelAnalysis& channel) {
  if (!level) return {};
  const auto quantity = quantity_named(channel.quantity);
  const double digit = channel.resolution;
  const double shown = digit > 0.0 ? std::round(*level / digit) * digit : *level;  // else the prefix would promise more
  return quantity ? human_value(shown, *quantity, digit) : fmt::format("{:.4g} {}", *level, channel.unit);
}

std::string items(const std::vector<std::string>& lines, const char* kind, Medium medium) {
  if (lines.empty()) return {};
  std::string out = fmt::format("<ul class=\"{}\">\n", kind);
  const std::size_t most = medium.most(&PaperRoom::rows, lines.size());
  for (std::size_t i = 0; i < most; ++i)
    out += "<li>" + sentence_html(medium.told(lines[i], &PaperRoom::sentence_text)) + "</li>\n";
  return out + "</ul>\n" + and_more(lines.size() - most, "lines", "report.html");
}

std::string limits_text(const Interval& limits, const std::string& unit) {
  const double factor = unit == "%" ? 100.0 : 1.0;
  if (!limits.bounded_below()) return fmt::format("at most {:g} {}", limits.max * factor, unit);
  if (!limits.bounded_above()) return fmt::format("at least {:g} {}", limits.min * factor, unit);
  return fmt::format("{:g} to {:g} {}", limits.min * factor, limits.max * factor, unit);
}

std::string judgement_html(const CyclingJudgement& judgement, Medium medium) {
  std::string out = heading("judgement", "Against the limits");
  if (judgement.timing && !judgement.timing->findings.empty()) {
    out +=
        "<div class=\"table\"><table>\n<thead><tr><th scope=\"col\">Quantity</th><th "
        "scope=\"col\">Judged</th><th "
        "scope=\"col\">Must be</th><th scope=\"col\">Value with U</th><th scope=\"col\">As "
        "measured</th></tr></thead>\n<tbody>\n";
    for (const TimingFinding& f : judgement.timing->findings) {
      const bool duty = f.unit.empty();
      const double factor = duty ? 100.0 : 1.0;
      const std::string unit = duty ? "%" : f.unit;
      const std::string word = to_string(f.outcome);
      out += fmt::format("<tr class=\"{}\"><th scope=\"row\">{}</th>", word, html_safe(f.quantity)) +
             cell(word == "fail" ? "FAIL" : word, "judged") + cell(html_safe(limits_text(f.limits, unit)), "number") +
             cell(value_with_U(f.value * factor, f.U * factor, unit) + (f.normalized ? " at rated conditions" : ""),
                  "number") +
             cell(f.measured ? value_with_U(*f.measured * factor, std::nullopt, unit) : "the same", "number") +
             "</tr>\n";
    }
    out += "</tbody>\n</table></div>\n";
  }
  std::vector<std::string> lines;
  if (judgement.timing)
    for (const TimingFaultFinding& fault : judgement.timing->faults)
      lines.push_back(to_string(fault.fault) + ": " + fault.sentence);
  for (const ChannelFinding& finding : judgement.findings)
    lines.push_back(finding.channel + " (" + to_string(finding.outcome) + "): " + finding.sentence);
  if (judgement.supply_v)
    lines.push_back(fmt::format("Supply: {:.1f} V, {}.", *judgement.supply_v, judgement.supply_from));
  if (judgement.timing && judgement.timing->duty_at_rated)
    lines.push_back(fmt::format("Duty at rated conditions: {:.1f} %{}.", 100.0 * *judgement.timing->duty_at_rated,
                                judgement.timing->saturated ? ": it would stay on" : ""));
  if (judgement.timing && judgement.timing->operations_per_hour)
    lines.push_back(fmt::format("{:.0f} switching operations per hour; click rate N = {:.2f} per minute (CISPR 14-1).",
                                *judgement.timing->operations_per_hour,
                                judgement.timing->click_rate_per_min.value_or(0.0)));
  lines.insert(lines.end(), judgement.remarks.begin(), judgement.remarks.end());
  out += items(lines, "remarks", medium);
  if (judgement.timing && !judgement.timing->versions.empty()) {
    out +=
        "<div class=\"table\"><table>\n<caption>Which rated voltage would explain these "
        "times</caption>\n<thead><tr><th "
        "scope=\"col\">Rated</th><th scope=\"col\">Duty there</th><th scope=\"col\">Period there</th><th "
        "scope=\"col\">Fits the limits</th></tr></thead>\n<tbody>\n";
    for (const VoltageVersion& version : judgement.timing->versions)
      out += fmt::format("<tr><th scope=\"row\">{:g} V</th>", version.rated_voltage_v) +
             cell(version.duty < 1.0 ? fmt::format("{:.1f} %", 100.0 * version.duty) : "always on", "number") +
             cell(version.period_s > 0.0 ? fmt::format("{:.1f} s", version.period_s) : "", "number") +
             cell(version.fits ? "<b>yes</b>" : "no") + "</tr>\n";
    out += "</tbody>\n</table></div>\n";
  }
  return out;
}

/// @param whole also the cycles and the histogram; paper has room for them on the judged channel alone
std::string channel_html(const TraceChannelAnalysis& channel, const PictureMaker& maker, std::size_t number, bool whole,
                         Medium medium) {
  const CycleSummary& s = channel.told();
  std::string out = heading(fmt::format("channel-{}", number).c_str(), html_safe(channel.name));
  std::vector<std::string> words{to_string(s.state), fmt::format("{} complete cycles", s.complete_cycles),
                                 fmt::format("{} samples in {}", s.samples, human_seconds(s.duration_s()))};
  if (s.interval_s) words.push_back("one every " + human_seconds(*s.interval_s));
  if (s.low_level) words.push_back("off at " + level_text(s.low_level, channel));
  if (s.high_level) words.push_back("on at " + level_text(s.high_level, channel));
  std::string lead;
  for (const std::string& word : words) lead += (lead.empty() ? "" : ", ") + sentence_html(word);
  out += "<p class=\"lead\">" + lead + ".</p>\n";
  if (!s.trusted) out += items(s.reasons, "remarks", medium);
  if (s.steady_from_cycle && *s.steady_from_cycle > 1)
    out += figures_table(fmt::format("Steady part: {} cycles, from cycle {}. {}", s.steady.cycles, *s.steady_from_cycle,
                                     coverage_words()),
                         s.steady);
  out += figures_table(fmt::format("All {} complete cycles. {}", s.all.cycles, coverage_words()), s.all);
  std::vector<std::string> notes = s.notes;
  struct Counted {
    std::uint64_t count;
    const char *one, *many;
  };
  for (const Counted& c :
       {Counted{s.gaps, "gap in the samples", "gaps in the samples"},
        Counted{s.incomplete_cycles, "cycle incomplete because of a gap", "cycles incomplete because of gaps"},
        Counted{s.flagged_cycles, "cycle kept with a short gap inside", "cycles kept with a short gap inside"},
        Counted{s.blips, "excursion below the shortest dwell", "excursions below the shortest dwell"},
        Counted{s.over_range, "over-range sample", "over-range samples"}})
    if (c.count > 0) notes.push_back(fmt::format("{} {}.", c.count, c.count == 1 ? c.one : c.many));
  out += items(notes, "remarks", medium);
  if (s.samples > 0) {
    const auto picture = [&](const std::string& svg) { out += "<div class=\"picture\">" + svg + "</div>\n"; };
    picture(maker.trace_svg(channel.summary));
    if (whole && s.complete_cycles > 0) picture(maker.cycles_svg(channel.summary));
    if (whole) picture(maker.histogram_svg(channel.summary));
  }
  if (medium == Medium::paper) return out;
  if (channel.first_cycles.empty() || !s.trusted) return out;
  out += fmt::format(
      "<details><summary>{} {} cycles</summary>\n<div class=\"table\"><table>\n<thead><tr><th "
      "scope=\"col\">Cycle</th><th "
      "scope=\"col\">Start</th><th scope=\"col\">On</th><th scope=\"col\">Off</th><th "
      "scope=\"col\">Period</th><th "
      "scope=\"col\">Duty</th><th scope=\"col\"></th></tr></thead>\n<tbody>\n",
      channel.first_cycles.size() == s.complete_cycles ? "All"
                                                       : fmt::format("The first {} of", channel.first_cycles.size()),
      s.complete_cycles);
  for (const Cycle& cycle : channel.first_cycles)
    out += fmt::format(
        "<tr><th scope=\"row\">{}</th><td class=\"number\">{:.2f} s</td><td class=\"number\">{:.2f} "
        "s</td><td "
        "class=\"number\">{:.2f} s</td><td class=\"number\">{:.2f} s</td><td class=\"number\">{:.1f} "
        "%</td><td>{}</td></tr>\n",
        cycle.index, cycle.start_s, cycle.on_s, cycle.off_s, cycle.period_s, 100.0 * cycle.duty,
        cycle.has_gap ? "a gap inside" : "");
  return out + "</tbody>\n</table></div></details>\n";
}

/// What fails, as the list on the first page tells it.
std::vector<std::string> deviating(const CyclingJudgement& judgement, Medium medium) {
  std::vector<std::string> out;
  const auto item = [&](const std::string& what, const std::string& text, const std::string& numbers) {
    out.push_back("<li><div class=\"severity\">" + html_safe(medium.told(what, &PaperRoom::fact_text)) +
                  "</div><p class=\"sentence\">" + sentence_html(medium.told(text, &PaperRoom::sentence_text)) +
                  "</p>" + (numbers.empty() ? "" : "<p class=\"numbers\">" + numbers + "</p>") + "</li>\n");
  };
  if (judgement.timing) {
    for (const TimingFaultFinding& fault : judgement.timing->faults)
      item("likely fault: " + to_string(fault.fault), fault.sentence, "");
    for (const TimingFinding& f : judgement.timing->findings) {
      if (f.outcome != Outcome::fail) continue;
      const double factor = f.unit.empty() ? 100.0 : 1.0;
      const std::string unit = f.unit.empty() ? "%" : f.unit;
      item(f.quantity, f.sentence,
           "measured <b>" + value_with_U(f.value * factor, f.U * factor, unit) + "</b> &middot; must be <b>" +
               html_safe(limits_text(f.limits, unit)) + "</b>");
    }
  }
  for (const ChannelFinding& finding : judgement.findings)
    if (finding.outcome == Outcome::fail) item("channel " + finding.channel, finding.sentence, "");
  return out;
}

}  // namespace

TraceParts trace_parts(const Record& record, Medium medium) {
  std::vector<std::unique_ptr<PictureMaker>> makers(record.channels.size());
  const TraceAnalysis analysis = reported_trace(
      record, [&](std::size_t i, const TraceChannelAnalysis& channel, const Survey& survey) -> SeriesListener* {
        makers[i] =
            std::make_unique<PictureMaker>(channel.name, channel.unit, survey, fmt::format("channel-{}", i + 1));
        return makers[i].get();
      });
  TraceParts parts;
  if (analysis.judgement) {
    parts.deviations = deviating(*analysis.judgement, medium);
    parts.body += judgement_html(*analysis.judgement, medium);
  }
  if (analysis.life) parts.body += heading("life", "Life") + "<p>" + html_safe(life_words(*analysis.life)) + "</p>\n";
  for (const std::string& difference : analysis.differences)
    parts.body += "<p class=\"simulated\" role=\"alert\">" + html_safe(difference) + "</p>\n";
  const std::string load = analysis.judgement ? analysis.judgement->load_channel : std::string{};
  // On paper the judged channel first, then as many others as there is room for.
  std::vector<std::size_t> order(analysis.channels.size());
  for (std::size_t i = 0; i < order.size(); ++i) order[i] = i;
  const std::size_t most = medium.most(&PaperRoom::channels, order.size());
  if (most < order.size())
    std::stable_partition(order.begin(), order.end(), [&](std::size_t i) { return analysis.channels[i].name == load; });
  for (const std::size_t i : order) {
    if (i == order[std::min(most, order.size() - 1)] && most < order.size()) break;
    const TraceChannelAnalysis& channel = analysis.channels[i];
    const bool whole = medium == Medium::screen || channel.name == load || (load.empty() && i == 0);
    parts.body += channel_html(channel, *makers[i], i + 1, whole, medium);
  }
  parts.body += and_more(order.size() - most, "channels", "report.html");
  return parts;
}

}  // namespace switchwright
