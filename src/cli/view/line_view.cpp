#include <fmt/format.h>

#include <algorithm>

#include "cli/output.hpp"
#include "cli/view/views.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/judge/wording.hpp"
#include "switchwright/explain/diagnosis.hpp"

namespace switchwright::cli {

namespace {

std::string painted(const std::string& text, const char* code, bool colour) {
  return colour ? "\x1b[" + std::string{code} + "m" + text + "\x1b[0m" : text;
}

std::string value_words(const Indication& indication, const std::optional<double>& corrected) {
  if (indication.state == ReadingState::over_range) return is_resistance(indication.quantity) ? "open" : "over-range";
  return human_value(corrected.value_or(indication.value), indication.quantity, indication.resolution);
}

class LineView final : public View {
 public:
  void on(const Event& event, Instant) override {
    if (const auto* opened = std::get_if<SessionOpened>(&event)) open(*opened);
    if (const auto* acknowledged = std::get_if<Acknowledged>(&event))
      put_line(fmt::format("  {}: acknowledged by {}", acknowledged->acknowledgement.what,
                           acknowledged->acknowledgement.who.empty() ? "(no name given)"
                                                                     : terminal_safe(acknowledged->acknowledgement.who)));
    if (const auto* kept = std::get_if<Kept>(&event)) keep(*kept);
    if (const auto* skipped = std::get_if<Skipped>(&event)) put_line("  skipped: " + skipped->step.instruction + " (" + terminal_safe(skipped->reason) + ")");
    if (const auto* note = std::get_if<Note>(&event)) put_line("  note: " + terminal_safe(note->text));
    if (const auto* link = std::get_if<LinkChanged>(&event))
      if (link->change.remark || (link->change.state != LinkState::open && link->change.state != LinkState::alive))
        put_line("  link: " + terminal_safe(link->change.detail));
    if (const auto* verdict = std::get_if<VerdictReached>(&event)) {
      VerdictReached told = *verdict;
      if (told.verdict.headline == stopped_) told.verdict.headline.clear();  // it stands just above
      put(verdict_words(told, colour()));
    }
    if (const auto* stopped = std::get_if<Stopped>(&event)) {
      stopped_ = stopped->text;
      put_line("\n" + terminal_safe(stopped_));
    }
  }

 private:
  void open(const SessionOpened& opened) {
    put_line(fmt::format("Qualifying {} {} as {}", opened.header.part.empty() ? "a part" : terminal_safe(opened.header.part),
                         terminal_safe(opened.header.serial), opened.header.profile_id));
    put_line("  profile values: " + terminal_safe(opened.header.profile_values));
    put_line(fmt::format("  meter {} at {}, decision rule {}, k = {:g}, record {}", opened.header.meter_id,
                         terminal_safe(opened.header.port), opened.header.rule, opened.header.k, opened.header.id));
    for (const std::string& warning : opened.warnings) put_line("  before we start: " + warning);
  }

  void keep(const Kept& kept) {
    if (kept.voltage) {
      keep_voltage(kept);
      return;
    }
    if (!kept.finding) {
      switch (kept.step.kind) {
        case StepKind::prove_meter: put_line("  meter proven on a known source: " + value_words(kept.indication, {})); break;
        case StepKind::absence: dead_ += (dead_.empty() ? "" : ", ") + kept.step.arrangement.pair.text(); break;
        case StepKind::prove_meter_again:
          put_line(fmt::format("  no {} voltage on {}", kept.step.arrangement.dial == Quantity::voltage_dc ? "DC" : "AC", dead_));
          dead_.clear();
          put_line("  meter proven again: " + value_words(kept.indication, {}));
          break;
        case StepKind::leads_before: put_line("  leads: " + value_words(kept.indication, {})); break;
        case StepKind::leads_after: put_line("  leads at the end: " + value_words(kept.indication, {})); break;
        case StepKind::supply_off: put_line("  supply off: " + value_words(kept.indication, {})); break;
        default: break;
      }
      return;
    }
    const Finding& finding = *kept.finding;
    if (cells_.empty()) cells_ = fmt::format("  {:<9}", finding.expected.pair.text());
    const bool good = finding.outcome == Outcome::pass && !finding.kind;
    std::string cell = fmt::format("{} {}", finding.expected.position, value_words(finding.indication, finding.corrected));
    if (!good) {
      cell += finding.outcome == Outcome::undecided ? " ?" : " <" + (finding.kind ? to_string(*finding.kind) : "") + ">";
      all_good_ = false;
    }
    const std::size_t width = cell.size();
    cells_ += "  " + painted(cell, finding.outcome == Outcome::fail ? "1;31" : "33", colour() && !good);
    if (width < 17) cells_.append(17 - width, ' ');
    if (kept.step.last_of_placement) {
      put_line(cells_ + (all_good_ ? "  as it should be" : ""));
      cells_.clear();
      all_good_ = true;
    }
  }

  /// One line per knob position; what is not as it should be is named.
  void keep_voltage(const Kept& kept) {
    const VoltageFinding& finding = *kept.voltage;
    if (kept.step.kind != StepKind::voltage) {
      put_line(fmt::format("  supply {}: {}{}", kept.step.kind == StepKind::supply_on ? "on" : "at the end",
                           value_words(finding.indication, {}), finding.outcome == Outcome::pass ? "" : " ?"));
      return;
    }
    ++voltages_;
    if (finding.outcome != Outcome::pass) {
      const std::string word = finding.kind ? "<" + to_string(*finding.kind) + ">" : "?";
      cells_ += painted(fmt::format("  {} {} {}", finding.expected.pair.text(), value_words(finding.indication, {}), word),
                        finding.outcome == Outcome::fail ? "1;31" : "33", colour());
    }
    if (!kept.step.last_of_placement) return;
    put_line(fmt::format("  {:<9}  {} voltages{}", finding.expected.position, voltages_,
                         cells_.empty() ? "  as they should be" : ":" + cells_));
    cells_.clear();
    voltages_ = 0;
  }

  std::string stopped_;
  std::string dead_;
  std::string cells_;
  int voltages_ = 0;
  bool all_good_ = true;
};

class JsonView final : public View {
 public:
  void on(const Event& event, Instant at) override { put_line(to_json(event, at)); }
};

}  // namespace

std::unique_ptr<View> make_line_view() { return std::make_unique<LineView>(); }
std::unique_ptr<View> make_json_view() { return std::make_unique<JsonView>(); }

/// One line of the scope: what was asked and did not pass, or was not asked at all.
static std::string scope_line(const Scope& scope, ScopePart part) {
  const ScopeItem& item = scope[part];
  if (item.decided == Decided::pass || (part == ScopePart::stated && !scope.asked(part))) return {};
  const std::string line = item.decided == Decided::not_asked
                               ? fmt::format("  {:<10} not asked for.", to_string(part))
                               : fmt::format("  {:<10} {}: {}.", to_string(part), to_string(item.decided), terminal_safe(item.reason));
  return line + (item.how.empty() ? "" : " " + item.how) + "\n";
}

std::string verdict_words(const VerdictReached& event, bool colour) {
  const Verdict& verdict = event.verdict;
  const char* code = verdict.outcome == Outcome::pass ? "1;32" : verdict.outcome == Outcome::fail ? "1;31" : "1;33";
  const std::string title = title_of(verdict);
  std::string word = title;
  for (char& c : word) c = static_cast<char>(std::toupper(static_cast<unsigned char>(c)));
  // The headline is a sentence of its own ("Fail: 2 of 60 ..."); its beginning is shown large already.
  const std::string headline =
      verdict.headline.starts_with(title + ": ") ? verdict.headline.substr(title.size() + 2) : verdict.headline;
  std::string text = "\n" + painted(word, code, colour) + "  " + terminal_safe(wording::capitalised(headline)) + "\n";
  const bool any = std::any_of(scope_parts.begin(), scope_parts.end(), [&](ScopePart p) { return verdict.scope.asked(p); });
  for (const ScopePart part : scope_parts)
    if (any) text += scope_line(verdict.scope, part);
  for (const Finding* finding : verdict.deviations())
    text += fmt::format("  {:<9} {}\n", to_string(finding->severity.value_or(Severity::minor)), finding->sentence);
  for (const VoltageFinding* finding : verdict.voltage_deviations())
    text += fmt::format("  {:<9} {}\n", to_string(finding->severity.value_or(Severity::minor)), finding->sentence);
  if (verdict.diagnosis) {
    text += "  what explains it\n";
    for (const ToldLine& line : told(*verdict.diagnosis, 3))
      text += std::string(line.level == 0 ? 4 : 8, ' ') + terminal_safe(line.text) + "\n";
  }
  for (const StatedFinding& finding : verdict.stated)
    text += fmt::format("  {:<9} {}\n",
                        finding.outcome == Outcome::fail ? to_string(finding.wanted.severity) : to_string(finding.outcome),
                        terminal_safe(finding.sentence));
  for (const InspectionFinding& inspection : verdict.inspection)
    if (inspection.answer == false)
      text += fmt::format("  {:<9} answered no: {}\n", to_string(inspection.question.severity), inspection.question.ask);
  std::size_t shown = 0;
  for (const Finding& finding : verdict.findings)
    if (finding.outcome == Outcome::undecided && shown++ < 6) text += "  undecided " + finding.sentence + "\n";
  for (const VoltageFinding& finding : verdict.voltages)
    if (finding.outcome == Outcome::undecided && shown++ < 6) text += "  undecided " + finding.sentence + "\n";
  for (const std::string& remark : verdict.remarks) text += "  note      " + terminal_safe(remark) + "\n";
  return text;
}

}  // namespace switchwright::cli
