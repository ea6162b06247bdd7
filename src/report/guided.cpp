#include "report/guided.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <vector>

#include "core/escape.hpp"
#include "report/svg.hpp"
#include "report/wrap.hpp"
#include "switchwright/core/text.hpp"

namespace switchwright {

namespace {

struct DropRow {
  std::string contact, pair, drop, current, ohm, limit, spot, judged;
  Outcome outcome = Outcome::undecided;
};

/// Both with the decimals of two significant figures of U (JCGM 100 7.2.6).
std::string milli(double value, double U, const char* unit) {
  const int decimals = U > 0.0 ? std::clamp(1 - static_cast<int>(std::floor(std::log10(U * 1e3) + 1e-9)), 0, 6) : 3;
  return fmt::format("({:.{}f} +/- {:.{}f}) m{}", value * 1e3, decimals, U * 1e3, decimals, unit);
}

/// Why a contact's drop decides nothing, or what it decides.
std::string judged_words(const Drop& drop) {
  switch (drop.state) {
    case DropState::seen:
      return drop.outcome == Outcome::pass ? "sound" : drop.outcome == Outcome::fail ? "NOT SOUND" : "undecided";
    case DropState::open: return "OPEN";
    case DropState::no_current: return "undecided: no current seen";
    case DropState::not_zero: return "undecided: the current was not off";
    case DropState::one_way: return "undecided: not reversed";
    case DropState::other_current: return "undecided: another current";
    case DropState::current_not_read: return "undecided: current not read";
    case DropState::shows_setting: return "undecided: display shows what is set";
    case DropState::beyond: return "undecided: beyond the range";
  }
  return "undecided";
}

/// The last of each contact, in the order in which they were first taken.
std::vector<DropRow> drops_of(const Record& record) {
  std::vector<const ContactDrop*> last;
  for (const WorkResult& result : record.results) {
    const auto* drop = std::get_if<ContactDrop>(&result.value);
    if (!drop) continue;
    const auto same =
        std::find_if(last.begin(), last.end(), [&](const auto* d) { return d->contact == drop->contact; });
    if (same == last.end())
      last.push_back(drop);
    else
      *same = drop;
  }
  std::vector<DropRow> rows;
  for (const ContactDrop* d : last) {
    const bool seen = d->drop.state == DropState::seen;
    rows.push_back({d->contact, d->pair.text(), milli(d->drop.drop_v, d->drop.U_drop_v, "V"),
                    fmt::format("{:g} A", d->current.amps),
                    seen ? milli(d->drop.ohm, d->drop.U_ohm, "ohm") : "-",  // no figure where no drop was read
                    fmt::format("{:g} mohm", d->limit_ohm * 1e3),
                    seen ? fmt::format("{:.0f} degC", d->drop.spot_c) : "-", judged_words(d->drop), d->drop.outcome});
  }
  return rows;
}

constexpr const char* drop_words =
    "R = U / I, with the uncertainty of both (JCGM 100, k = 2). The temperature is what the spot where the "
    "contacts touch reaches at "
    "most at this current (R. Holm: from the drop alone, the body of the contact at 20 degC); the drop also "
    "holds tabs, springs and "
    "films, so both are upper bounds.";

std::vector<std::string> network_words(const Learned& learned) {
  std::vector<std::string> words;
  for (const Contact& contact : learned.contacts)
    words.push_back(
        fmt::format("contact {}, closed at {}", contact.between.text(), joined_with_and(contact.closed_at)));
  for (const Element& element : learned.elements)
    words.push_back(fmt::format("element {}, {}", element.between.text(), human_ohm(element.nominal_ohm)));
  for (const std::string& terminal : learned.unconnected)
    words.push_back(fmt::format("terminal {}, joined to nothing", terminal));
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
  const auto* task = last_of<DropTask>(record.results);
  if (!task) return {};
  return fmt::format("({:g} +/- {:.2g}) A at {}, as the operator states it{}", task->current.amps, task->current.U_amps,
                     task->position, task->reversed ? "; also the other way round" : "; one way only");
}

std::optional<std::string> learned_headline(const Record& record) {
  const auto* part = is_learning(record) ? last_of<LearnedPart>(record.results) : nullptr;
  if (!part) return std::nullopt;
  const auto count = [](std::size_t n, const char* noun) { return fmt::format("{} {}{}", n, noun, n == 1 ? "" : "s"); };
  return fmt::format(
      "A profile was learned from this part, for review: {}, {}. Nothing was judged; what is wrong with this part is in the profile.",
      count(part->learned.contacts.size(), "contact"), count(part->learned.elements.size(), "element"));
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
  if (const auto* part = is_learning(record) ? last_of<LearnedPart>(record.results) : nullptr) {
    heading("WHAT WAS LEARNED");
    for (const std::string& words : network_words(part->learned)) out += wrapped("  * ", "    ", line_safe(words));
    if (!part->learned.ambiguities.empty()) heading("WHAT THE READINGS LEAVE OPEN");
    for (const std::string& question : part->learned.ambiguities) out += wrapped("  * ", "    ", line_safe(question));
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
      std::stable_partition(shown.begin(), shown.end(),
                            [](const DropRow& row) { return row.outcome != Outcome::pass; });
    shown.resize(most);
    for (const DropRow& row : shown) {
      out += fmt::format("<tr class=\"{}\"><th scope=\"row\">{}</th>", to_string(row.outcome), html_safe(row.contact));
      for (const std::string* cell : {&row.pair, &row.drop, &row.current, &row.ohm, &row.limit, &row.spot})
        out += "<td class=\"number\">" + with_signs(*cell) + "</td>";
      out += "<td class=\"judged\">" + html_safe(row.judged) + "</td></tr>\n";
    }
    out += "</tbody>\n</table></div>\n" + more_words(rows.size() - most, "contacts");
  }
  if (const auto* part = is_learning(record) ? last_of<LearnedPart>(record.results) : nullptr) {
    out += "<h2 id=\"learned\">What was learned</h2>\n" + html_list(network_words(part->learned), medium);
    if (!part->learned.ambiguities.empty())
      out += "<h2 id=\"open-questions\">What the readings leave open</h2>\n" +
             html_list(part->learned.ambiguities, medium);
    out += "<p>The profile itself is in the evidence folder and in the record's JSON.</p>\n";
  }
  return out;
}

}  // namespace switchwright
