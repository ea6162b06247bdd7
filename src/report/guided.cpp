#include "report/guided.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>
#include <vector>

#include "core/escape.hpp"
#include "report/svg.hpp"
#include "report/wrap.hpp"
#include "switchwright/core/text.hpp"

namespace switchwright {

namespace {

using nlohmann::json;

std::vector<json> lines_of(const Record& record, std::string_view kind) {
  std::vector<json> lines;
  for (const TraceResult& result : record.results) {
    if (result.kind != kind) continue;
    json line = json::parse(result.json, nullptr, false);
    if (line.is_object()) lines.push_back(std::move(line));
  }
  return lines;
}

struct DropRow {
  std::string contact, pair, drop, current, ohm, limit, spot, judged;
  bool good = false;
};

/// Both with the decimals of two significant figures of U (JCGM 100 7.2.6).
std::string milli(double value, double U, const char* unit) {
  const int decimals = U > 0.0 ? std::clamp(1 - static_cast<int>(std::floor(std::log10(U * 1e3) + 1e-9)), 0, 6) : 3;
  return fmt::format("({:.{}f} +/- {:.{}f}) m{}", value * 1e3, decimals, U * 1e3, decimals, unit);
}

/// The last line of each contact, in the order in which they were first taken.
std::vector<DropRow> drops_of(const Record& record) {
  std::vector<json> last;
  for (json& line : lines_of(record, "drop")) {
    const auto same =
        std::find_if(last.begin(), last.end(), [&](const json& l) { return l["contact"] == line["contact"]; });
    if (same == last.end())
      last.push_back(std::move(line));
    else
      *same = std::move(line);
  }
  std::vector<DropRow> rows;
  for (const json& line : last) {
    DropRow row;
    row.contact = line.value("contact", "");
    if (line.contains("pair") && line["pair"].size() == 2)
      row.pair = line["pair"][0].get<std::string>() + "-" + line["pair"][1].get<std::string>();
    row.drop = milli(line.value("drop_v", 0.0), line.value("U_drop_v", 0.0), "V");
    row.current = fmt::format("{:g} A", line.value("current_a", 0.0));
    row.ohm = milli(line.value("ohm", 0.0), line.value("U_ohm", 0.0), "ohm");
    row.limit = fmt::format("{:g} mohm", line.value("limit_ohm", 0.0) * 1e3);
    row.spot = fmt::format("{:.0f} degC", line.value("spot_at_most_c", 20.0));
    const std::string outcome = line.value("outcome", "");
    row.judged = outcome == "pass" ? "sound" : outcome == "fail" ? "NOT SOUND" : "undecided";
    if (const std::string state = line.value("state", "seen"); state != "seen") {
      row.ohm = row.spot = "-";  // no figure where no drop was read
      row.judged = state == "open"               ? "OPEN"
                   : state == "no-current"       ? "undecided: no current seen"
                   : state == "not-zero"         ? "undecided: the current was not off"
                   : state == "one-way"          ? "undecided: not reversed"
                   : state == "other-current"    ? "undecided: another current"
                   : state == "current-not-read" ? "undecided: current not read"
                   : state == "shows-setting"    ? "undecided: display shows what is set"
                                                 : "undecided: beyond the range";
    }
    row.good = outcome == "pass";
    rows.push_back(std::move(row));
  }
  return rows;
}

constexpr const char* drop_words =
    "R = U / I, with the uncertainty of both (JCGM 100, k = 2). The temperature is what the spot where the "
    "contacts touch reaches at "
    "most at this current (R. Holm: from the drop alone, the body of the contact at 20 degC); the drop also "
    "holds tabs, springs and "
    "films, so both are upper bounds.";

struct LearnedWords {
  std::vector<std::string> network;
  std::vector<std::string> open_questions;
  std::string profile;
};

std::optional<LearnedWords> learned_words(const Record& record) {
  const auto lines = lines_of(record, "learned");
  if (lines.empty()) return std::nullopt;
  const json& line = lines.back();
  const auto list = [&](const char* key) { return line.value(key, json::array()); };
  const auto pair = [](const json& part) {
    return part["pair"].at(0).get<std::string>() + "-" + part["pair"].at(1).get<std::string>();
  };
  LearnedWords words;
  try {
    for (const json& contact : list("contacts"))
      words.network.push_back(fmt::format("contact {}, closed at {}", pair(contact),
                                          joined_with_and(contact["closed_at"].get<std::vector<std::string>>())));
    for (const json& element : list("elements"))
      words.network.push_back(
          fmt::format("element {}, {}", pair(element), human_ohm(element["nominal_ohm"].get<double>())));
    for (const json& terminal : list("unconnected"))
      words.network.push_back(fmt::format("terminal {}, joined to nothing", terminal.get<std::string>()));
    for (const json& question : list("open_questions")) words.open_questions.push_back(question.get<std::string>());
    words.profile = line.value("profile", "");
  } catch (const json::exception&) {
    return std::nullopt;
  }
  return words;
}

std::string with_signs(const std::string& text) { return html_safe(svg::with_signs(text)); }

std::string more_words(std::size_t count, const char* what) {
  return count == 0 ? "" : fmt::format("<p><b>And {} more {}</b>, in report.html of the bag.</p>\n", count, what);
}

std::string html_list(const std::vector<std::string>& items, Medium medium) {
  std::string out = "<ul>\n";
  const std::size_t most = medium.most(&PaperRoom::rows, items.size());
  for (std::size_t i = 0; i < most; ++i)
    out += "<li>" + with_signs(medium.told(items[i], &PaperRoom::sentence_text)) + "</li>\n";
  return out + "</ul>\n" + more_words(items.size() - most, "lines");
}

}  // namespace

bool is_drop(const Record& record) { return record.header.kind == RecordKind::drop; }
bool is_learning(const Record& record) { return record.header.kind == RecordKind::learn; }

std::string drop_current_text(const Record& record) {
  const auto lines = lines_of(record, "setup");
  if (lines.empty()) return {};
  return fmt::format("({:g} +/- {:.2g}) A at {}, as the operator states it{}", lines[0].value("current_a", 0.0),
                     lines[0].value("U_current_a", 0.0), lines[0].value("position", ""),
                     lines[0].value("reversed", false) ? "; also the other way round" : "; one way only");
}

std::optional<std::string> learned_headline(const Record& record) {
  const auto lines = lines_of(record, "learned");
  if (!is_learning(record) || lines.empty()) return std::nullopt;
  const auto count = [&](const char* key, const char* noun) {
    const std::size_t n = lines.back().value(key, json::array()).size();
    return fmt::format("{} {}{}", n, noun, n == 1 ? "" : "s");
  };
  return fmt::format(
      "A profile was learned from this part, for review: {}, {}. Nothing was judged; what is wrong with this "
      "part is "
      "in the profile.",
      count("contacts", "contact"), count("elements", "element"));
}

std::string guided_as_text(const View& view) {
  const Record& record = view.record();
  std::string out;
  const auto heading = [&](const char* words) { out += fmt::format("\n{}\n", words); };
  if (const auto rows = is_drop(record) ? drops_of(record) : std::vector<DropRow>{}; !rows.empty()) {
    heading("MILLIVOLT DROP");
    for (const DropRow& row : rows)
      out += line_safe(fmt::format("  {:<12} {:<9} {:<22} {:<6}  {:<24} {:<10} limit {}, spot at most {}", row.contact,
                                   row.pair, row.drop, row.current, row.ohm, row.judged, row.limit, row.spot)) +
             "\n";
    out += wrapped("  ", "  ", drop_words);
  }
  if (const auto words = is_learning(record) ? learned_words(record) : std::nullopt) {
    heading("WHAT WAS LEARNED");
    for (const std::string& part : words->network) out += wrapped("  * ", "    ", line_safe(part));
    if (!words->open_questions.empty()) heading("WHAT THE READINGS LEAVE OPEN");
    for (const std::string& question : words->open_questions) out += wrapped("  * ", "    ", line_safe(question));
  }
  return out;
}

std::string guided_as_html(const View& view, Medium medium) {
  const Record& record = view.record();
  std::string out;
  if (const auto rows = is_drop(record) ? drops_of(record) : std::vector<DropRow>{}; !rows.empty()) {
    out += "<h2 id=\"drop\">Millivolt drop</h2>\n<div class=\"table\"><table>\n<caption>" + with_signs(drop_words) +
           "</caption>\n<thead><tr>";
    for (const char* column :
         {"Contact", "Pair", "Drop", "Current", "Resistance", "A sound one has at most", "Spot at most", "Judged"})
      out += fmt::format("<th scope=\"col\">{}</th>", column);
    out += "</tr></thead>\n<tbody>\n";
    std::vector<DropRow> shown = rows;
    const std::size_t most = medium.most(&PaperRoom::rows, rows.size());
    if (most < rows.size())
      std::stable_partition(shown.begin(), shown.end(), [](const DropRow& row) { return !row.good; });
    shown.resize(most);
    for (const DropRow& row : shown) {
      out += fmt::format("<tr class=\"{}\"><th scope=\"row\">{}</th>",
                         row.good                    ? "pass"
                         : row.judged == "undecided" ? "undecided"
                                                     : "fail",
                         html_safe(row.contact));
      for (const std::string* cell : {&row.pair, &row.drop, &row.current, &row.ohm, &row.limit, &row.spot})
        out += "<td class=\"number\">" + with_signs(*cell) + "</td>";
      out += "<td class=\"judged\">" + html_safe(row.judged) + "</td></tr>\n";
    }
    out += "</tbody>\n</table></div>\n" + more_words(rows.size() - most, "contacts");
  }
  if (const auto words = is_learning(record) ? learned_words(record) : std::nullopt) {
    out += "<h2 id=\"learned\">What was learned</h2>\n" + html_list(words->network, medium);
    if (!words->open_questions.empty())
      out += "<h2 id=\"open-questions\">What the readings leave open</h2>\n" + html_list(words->open_questions, medium);
    out += "<p>The profile itself is in the evidence folder and in the record's JSON.</p>\n";
  }
  return out;
}

}  // namespace switchwright
