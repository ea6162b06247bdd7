// The report for a terminal or a mail: plain lines, the verdict first, no colour.
#include "switchwright/core/text.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "core/escape.hpp"
#include "report/exporters.hpp"
#include "report/guided.hpp"
#include "report/trace_view.hpp"
#include "report/view.hpp"
#include "report/voltages.hpp"
#include "report/wrap.hpp"
#include "switchwright/explain/diagnosis.hpp"
#include "switchwright/record/additions.hpp"
#include "switchwright/record/record_json.hpp"

namespace switchwright {

namespace {

std::string upper(std::string text) {
  std::transform(text.begin(), text.end(), text.begin(),
                 [](unsigned char c) { return static_cast<char>(std::toupper(c)); });
  return text;
}

std::string heading(const std::string& text) { return fmt::format("\n{}\n", upper(text)); }

std::string cell_text(const Cell& cell) {
  const auto value = [&]() -> std::string {
    if (cell.indication == nullptr) return "-";
    if (cell.indication->state == ReadingState::over_range) return "open";
    if (cell.indication->state != ReadingState::finite) return "no value";
    if (cell.finding == nullptr) return shown_text(*cell.indication);
    return value_text(cell.finding->corrected.value_or(cell.indication->value), cell.finding->U,
                      cell.indication->quantity, cell.indication->resolution);
  };
  switch (cell.mark) {
    case Mark::fail: return fmt::format("X {}", value());
    case Mark::undecided: return fmt::format("? {}", value());
    case Mark::not_sound: return fmt::format("! {}", value());
    case Mark::not_measured: return "- not measured";
    case Mark::left_out: return ". left out";
    case Mark::not_checked: return ". not checked";
    case Mark::none: return "";
    case Mark::pass:
    case Mark::unjudged: return fmt::format("  {}", value());
  }
  return {};
}

std::string matrix(const View& view) {
  std::vector<std::size_t> widths{4};
  for (const Pair& pair : view.pairs()) widths[0] = std::max(widths[0], line_safe(pair.text()).size());
  for (const std::string& position : view.positions()) {
    std::size_t most = line_safe(view.label(position)).size() + 2;
    for (const Pair& pair : view.pairs()) most = std::max(most, cell_text(view.cell(position, pair)).size());
    widths.push_back(most);
  }
  const auto trimmed = [](std::string line) {
    line.erase(line.find_last_not_of(' ') + 1);
    return line + "\n";
  };
  std::string out, line = fmt::format("  {:<{}}", "pair", widths[0]);
  for (std::size_t i = 0; i < view.positions().size(); ++i)
    line += fmt::format("   {:<{}}", fmt::format("  {}", line_safe(view.label(view.positions()[i]))), widths[i + 1]);
  out += trimmed(line);
  for (const Pair& pair : view.pairs()) {
    line = fmt::format("  {:<{}}", line_safe(pair.text()), widths[0]);
    for (std::size_t i = 0; i < view.positions().size(); ++i)
      line += fmt::format("   {:<{}}", cell_text(view.cell(view.positions()[i], pair)), widths[i + 1]);
    out += trimmed(line);
  }
  return out + "  X fails   ? undecided   ! closed but not sound   - not measured   . not checked\n";
}

class TextExporter final : public Exporter {
 public:
  std::string format() const override { return "text"; }
  std::string extension() const override { return ".txt"; }
  std::string render(const Record& record) const override {
    const View view(record);
    std::string out;
    if (!record.chain_fault.empty()) out += wrapped("", "  ", line_safe(chain_warning(record.chain_fault))) + "\n";
    if (record.header.kind == RecordKind::practice)
      out += "PRACTICE: simulated readings, for training. No part was tested.\n\n";
    else if (record.header.simulated)
      out += "SIMULATED: measured on the simulator, not on a real part.\n\n";
    out += wrapped(upper(view.title()) + ": ", "  ", line_safe(view.headline()));
    if (const auto rows = view.scope(); !rows.empty()) {
      out += heading("What this verdict covers");
      for (const ScopeRow& row : rows)
        out += wrapped(fmt::format("  {:<11} {:<14} ", row.part, row.decided), std::string(29, ' '),
                       line_safe(sentences({row.reason, row.how})));
    }
    if (is_trace(record)) {
      out += trace_text(record);
    } else if (const Verdict* verdict = view.verdict()) {
      add_lists(out, view, *verdict);
    }
    out += guided_as_text(view);
    if (!is_trace(record) && !view.pairs().empty()) {
      out += heading(view.verdict() != nullptr ? "Readings, leads subtracted" : "Readings, leads included");
      out += matrix(view);
    }
    if (const std::string voltages = voltages_as_text(view); !voltages.empty())
      out += heading("Under power, AC volts") + voltages;
    if (const Verdict* verdict = view.verdict()) add_uncertainties(out, *verdict, record.header.k);
    out += heading("How it was measured");
    for (const NamedFact& fact : view.facts())
      out += wrapped(fmt::format("  {:<28} ", fact.name), std::string(31, ' '), line_safe(fact.value));
    const auto happenings = view.happenings();
    if (!happenings.empty()) out += heading("Before and during the work, times in " + zone_text(record.header));
    for (const Happening& h : happenings)
      out += wrapped("  ", "    ",
                     line_safe(fmt::format("{}  {}{}{}", local_time_text(h.at, record.header), h.what,
                                           h.details.empty() ? "" : ": ", h.details)));
    if (const auto notes = notes_in(record); !notes.empty()) {
      out += heading("Notes added to the record");
      for (const AddedNote& note : notes)
        out += wrapped("  * ", "    ",
                       line_safe(local_time_text(note.at, record.header) + ", " + note.who + ": " + note.text));
    }
    if (const auto files = attachments_in(record); !files.empty()) {
      out += heading("Files attached to the record");
      for (const Attachment& a : files)
        out +=
            wrapped("  * ", "    ",
                    line_safe(fmt::format("{}, {} bytes, added by {}, SHA-256 {}", a.name, a.bytes, a.who, a.sha256)));
    }
    out += heading("Cautions");
    for (const std::string& caution : view.cautions()) out += wrapped("  * ", "    ", caution);
    add_further(out, view);
    out += heading("Checking this report");
    out += "  chain head  " + (record.chain_head.empty() ? "none: not stored" : record.chain_head) +
           fmt::format("\n  batches     {}\n", record.batches);
    for (const std::string& line : view.how_to_check()) out += wrapped("  ", "  ", line);
    return out;
  }

 private:
  static void add_further(std::string& out, const View& view) {
    const Verdict* verdict = view.verdict();
    if (verdict == nullptr || !verdict->diagnosis) return;
    const auto lines = told_further(*verdict->diagnosis);
    if (!lines.empty()) out += heading("Further about the explanations");
    for (const std::string& line : lines) out += wrapped("  * ", "    ", line_safe(line));
  }

  static void add_lists(std::string& out, const View& view, const Verdict& verdict) {
    const auto deviations = view.deviations();
    out += heading("What deviates");
    const auto voltages = voltage_deviations(view);
    const bool nothing_judged = verdict.findings.empty() && verdict.voltages.empty();
    if (deviations.empty() && voltages.empty())
      out += nothing_judged ? "  Nothing of the part was judged.\n" : "  Nothing of the part.\n";
    for (const Group& group : deviations)
      out += wrapped(
          "  * ", "    ",
          line_safe(fmt::format("{}: {}", upper(group.first().severity ? word_for(*group.first().severity) : ""),
                                view.told(group))));
    for (const VoltageGroup& group : voltages)
      out += wrapped(
          "  * ", "    ",
          line_safe(fmt::format("{}: {}", upper(group.first().severity ? word_for(*group.first().severity) : ""),
                                told(view, group))));
    if (verdict.diagnosis) {
      out += heading("What explains the readings");
      for (const ToldLine& line : told(*verdict.diagnosis))
        out += line.level == 0 ? wrapped("  * ", "    ", line_safe(line.text))
                               : wrapped("    ", "    ", line_safe(line.text));
    }
    const auto undecided = view.undecided();
    const auto undecided_under_power = undecided_voltages(view);
    if (!undecided.empty() || !undecided_under_power.empty()) out += heading("What is not decided");
    for (const Group& group : undecided) out += wrapped("  * ", "    ", line_safe(view.told(group)));
    for (const VoltageGroup& group : undecided_under_power)
      out += wrapped("  * ", "    ", line_safe(told(view, group)));
    if (!verdict.voltages_not_measured.empty())
      out +=
          heading("Under power, not measured") + fmt::format("  {} voltages.\n", verdict.voltages_not_measured.size());
    if (!verdict.not_measured.empty()) out += heading("What was not measured");
    for (const Expectation& e : verdict.not_measured)
      out += wrapped(
          "  * ", "    ",
          line_safe(e.pair.text() + " at " + view.label(e.position) + (e.reason.empty() ? "" : ": " + e.reason)));
    if (!verdict.left_out.empty()) {
      out += heading("What the plan left out");
      for (const LeftOutRow& row : left_out_rows(view, verdict))
        out += wrapped("  * ", "    ", line_safe(row.pair.text() + " at " + joined_with_and(row.positions)));
    }
    if (!verdict.stated.empty()) out += heading("Stated, from other instruments");
    for (const StatedFinding& f : verdict.stated)
      out += wrapped("  * ", "    ", line_safe(upper(word_for(f.outcome)) + ": " + f.sentence));
    if (!verdict.inspection.empty()) out += heading("Inspection");
    for (const InspectionFinding& i : verdict.inspection)
      out += wrapped("  * ", "    ",
                     line_safe(fmt::format("{} {} ({} when not){}", i.question.ask,
                                           !i.answer   ? "NOT ANSWERED"
                                           : *i.answer ? "yes"
                                                       : "NO",
                                           word_for(i.question.severity), i.note.empty() ? "" : ": " + i.note)));
    if (!verdict.remarks.empty()) out += heading("Remarks");
    for (const std::string& remark : verdict.remarks) out += wrapped("  * ", "    ", line_safe(remark));
  }

  /// The largest U of what was read, per kind of pair: the matrix has no room for one per cell.
  static void add_uncertainties(std::string& out, const Verdict& verdict, double k) {
    const Finding* largest[2] = {nullptr, nullptr};
    for (const Finding& f : verdict.findings) {
      if (!f.U) continue;
      const Finding*& best = largest[f.expected.state == PairState::element ? 1 : 0];
      if (best == nullptr || *f.U > *best->U) best = &f;
    }
    if (largest[0] != nullptr)
      out += fmt::format("  U (k = {:g}) of what is closed or open: at most {}\n", k,
                         uncertainty_text(largest[0]->corrected.value_or(0.0), *largest[0]->U,
                                          largest[0]->indication.quantity, largest[0]->indication.resolution));
    if (largest[1] != nullptr)
      out += fmt::format("  U (k = {:g}) of what is read through an element: at most {}\n", k,
                         uncertainty_text(largest[1]->corrected.value_or(0.0), *largest[1]->U,
                                          largest[1]->indication.quantity, largest[1]->indication.resolution));
  }
};

}  // namespace

std::unique_ptr<Exporter> text_exporter() { return std::make_unique<TextExporter>(); }

}  // namespace switchwright
