#include "report/front_page.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "report/html_parts.hpp"
#include "switchwright/explain/diagnosis.hpp"

namespace switchwright {

namespace {

constexpr double mm_per_pt = 25.4 / 72, line_height = 1.32;

/// Width of a text in ems of DejaVu Sans, each letter rather too wide.
double ems(const std::string& text) {
  double width = 0.0;
  for (const char c : text) {
    const bool upper = c >= 'A' && c <= 'Z';
    if (c == 'W' || c == 'M' || c == 'm' || c == '@' || c == '%' || c == 'w')
      width += 1.0;
    else if (static_cast<unsigned char>(c) >= 0x80)
      width += 0.5;  // a letter of two bytes, or a wide one of three
    else
      width += upper ? 0.76 : 0.65;
  }
  return width;
}

double lines(const std::string& text, double size_pt, double width_mm, bool bold = false) {
  const double needed_mm = ems(text) * size_pt * mm_per_pt * (bold ? 1.12 : 1.0);
  return std::max(1.0, std::ceil(needed_mm / (width_mm - size_pt * mm_per_pt)));  // a line ends at a word
}

double height(const std::string& text, double size_pt, double width_mm, bool bold = false) {
  return lines(text, size_pt, width_mm, bold) * size_pt * line_height * mm_per_pt;
}

/// Of a piece of our own HTML: without its tags, a character for each entity.
std::string words_of(const std::string& html) {
  std::string text;
  bool tag = false;
  for (std::size_t i = 0; i < html.size(); ++i) {
    if (html[i] == '<') tag = true;
    if (!tag) {
      text += html[i] == '&' ? 'x' : html[i];
      if (html[i] == '&') i = std::min(html.find(';', i), html.size());
    }
    if (i < html.size() && html[i] == '>') tag = false;
  }
  return text;
}

double facts_height(const std::vector<NamedFact>& facts, Medium medium) {
  double total = 0.0, beside = 0.0;
  bool left = true;
  for (const NamedFact& fact : facts) {
    const std::string value = fact_told(fact, medium);
    const bool wide = value.size() > 62;
    const double own = 1.3 + std::max(height(fact.name, 8, 25), height(value, 8, wide ? 154 : 62));
    if (wide) {
      total += (left ? 0.0 : beside) + own;
      left = true;
    } else if (left) {
      beside = own;
      left = false;
    } else {
      total += std::max(beside, own);
      left = true;
    }
  }
  return total + (left ? 0.0 : beside) + 1.0;
}

constexpr double heading = 3.6 + 1.0 + 11 * 1.2 * mm_per_pt;

double scope_height(const View& view, Medium medium) {
  double total = heading + 1.0;
  for (const ScopeRow& row : view.scope()) total += 1.3 + height(scope_told(row, medium), 8, 132);
  return total;
}

/// Severity, sentence, numbers.
double deviation_height(const std::string& item) {
  double total = 1.3 + 0.4 + 2.0;
  for (std::size_t at = 0; at < item.size();) {
    const std::size_t div = item.find("</div>", at), p = item.find("</p>", at);
    const std::size_t end =
        std::min({div == std::string::npos ? item.size() : div, p == std::string::npos ? item.size() : p, item.size()});
    const std::string words = words_of(item.substr(at, end - at));
    if (words.size() > 1) total += 0.4 + height(words, 8.6, 176, true);
    at = end >= item.size() ? item.size() : item.find('>', end) + 1;
  }
  return total;
}

}  // namespace

std::vector<NamedFact> front_facts(const View& view, Medium medium) {
  std::vector<NamedFact> facts = view.identity();
  if (medium == Medium::screen) return facts;
  const std::size_t channels = view.record().channels.size(), most = medium.most(&PaperRoom::channels, channels);
  if (most == channels) return facts;
  std::size_t seen = 0;
  const auto beyond = [&](const NamedFact& fact) { return (seen += fact.name == "Channel") > most; };
  std::vector<NamedFact> kept;
  for (const NamedFact& fact : facts)
    if (!beyond(fact)) kept.push_back(fact);
  kept.push_back(
      {"Further channels", fmt::format("{}, each with its meter, in report.html of the bag", channels - most), false});
  return kept;
}

FrontPage front_page(const View& view, const std::vector<std::vector<std::string>>& deviations_by_level, Medium medium,
                     Paper paper) {
  const Record& record = view.record();
  const double sheet_mm = paper == Paper::letter ? 279.4 - 25 : 297.0 - 25, safe_mm = 0.96 * sheet_mm;
  double always = 7.0 + 2.4 + lines(view.title(), 17, 150, true) * 6.6 + 0.0;
  if (!record.chain_fault.empty()) always += 6.0 + height(record.chain_fault, 8.6, 150, true) + 8.0;
  if (record.header.simulated || record.header.kind == RecordKind::practice) always += 9.0;
  const bool explained =
      record.verdict && record.verdict->diagnosis && !record.verdict->diagnosis->explanations.empty();
  FrontPage last{Medium::paper_at(Medium::briefest), 1, 34};
  for (int level = medium.level(); level <= Medium::briefest; ++level) {
    const Medium at = Medium::paper_at(level);
    const auto& items = deviations_by_level[static_cast<std::size_t>(level)];
    const double texts = always + height(at.told(view.headline(), &PaperRoom::sentence_text), 9.6, 150) +
                         facts_height(front_facts(view, at), at) + scope_height(view, at) + heading + 2.0 +
                         (explained && level < Medium::briefest
                              ? 2.0 + height(std::string(at.room().sentence_text + 60, 'n'), 8.6, 186, true)
                              : 0.0);
    for (const double schematic_mm : {62.0, 50.0, 42.0, 34.0})
      for (const std::size_t count : {std::size_t{3}, std::size_t{2}, std::size_t{1}}) {
        double total = texts + schematic_mm + 6.0 + (items.size() > count ? 6.0 : 0.0);
        for (std::size_t i = 0; i < std::min(count, items.size()); ++i) total += deviation_height(items[i]);
        if (total <= safe_mm) return {at, count, schematic_mm};
      }
  }
  return last;
}

}  // namespace switchwright
