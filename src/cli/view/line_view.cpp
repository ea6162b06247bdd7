#include <fmt/format.h>

#include <algorithm>

#include "cli/output.hpp"
#include "cli/view/terminal.hpp"
#include "cli/view/views.hpp"
#include "switchwright/bench/words.hpp"
#include "switchwright/core/text.hpp"

namespace switchwright::cli {

namespace {

class LineView final : public View {
 public:
  void on(const Event& event, Instant) override {
    if (const auto* opened = std::get_if<SessionOpened>(&event)) open(*opened);
    if (const auto* acknowledged = std::get_if<Acknowledged>(&event))
      put_line(fmt::format("  {}: acknowledged by {}", acknowledged->acknowledgement.what,
                           acknowledged->acknowledgement.who.empty()
                               ? "(no name given)"
                               : terminal_safe(acknowledged->acknowledgement.who)));
    if (const auto* kept = std::get_if<Kept>(&event)) keep(*kept);
    if (const auto* skipped = std::get_if<Skipped>(&event))
      put_line("  skipped: " + skipped->step.instruction + " (" + terminal_safe(skipped->reason) + ")");
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
    put_line(fmt::format("Qualifying {} {} as {}",
                         opened.header.part.empty() ? "a part" : terminal_safe(opened.header.part),
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
        case StepKind::prove_meter:
          put_line("  meter proven on a known source: " + kept_words(kept.indication, std::nullopt));
          break;
        case StepKind::absence: dead_ += (dead_.empty() ? "" : ", ") + kept.step.arrangement.pair.text(); break;
        case StepKind::prove_meter_again:
          put_line(fmt::format("  no {} voltage on {}",
                               kept.step.arrangement.dial == Quantity::voltage_dc ? "DC" : "AC", dead_));
          dead_.clear();
          put_line("  meter proven again: " + kept_words(kept.indication, std::nullopt));
          break;
        case StepKind::leads_before: put_line("  leads: " + kept_words(kept.indication, std::nullopt)); break;
        case StepKind::leads_apart: put_line("  tips apart: " + kept_words(kept.indication, std::nullopt)); break;
        case StepKind::leads_after: put_line("  leads at the end: " + kept_words(kept.indication, std::nullopt)); break;
        case StepKind::bond:
        case StepKind::bond_at_end: put_line("  bond: " + kept_words(kept.indication, std::nullopt)); break;
        case StepKind::placed_dead:
        case StepKind::supply_off: put_line("  supply off: " + kept_words(kept.indication, std::nullopt)); break;
        default: break;
      }
      return;
    }
    const Finding& finding = *kept.finding;
    if (cells_.empty()) cells_ = fmt::format("  {:<9}", finding.expected.pair.text());
    const bool good = finding.outcome == Outcome::pass && !finding.kind;
    std::string cell =
        fmt::format("{} {}", finding.expected.position, kept_words(finding.indication, finding.corrected));
    if (!good) {
      cell +=
          finding.outcome == Outcome::undecided ? " ?" : " <" + (finding.kind ? to_string(*finding.kind) : "") + ">";
      all_good_ = false;
    }
    const std::size_t width = cell.size();
    cells_ += "  " + painted(cell, good ? "" : finding.outcome == Outcome::fail ? "1;31" : "33");
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
                           kept_words(finding.indication, std::nullopt), finding.outcome == Outcome::pass ? "" : " ?"));
      return;
    }
    ++voltages_;
    if (finding.outcome != Outcome::pass) {
      const std::string word = finding.kind ? "<" + to_string(*finding.kind) + ">" : "?";
      cells_ += painted(
          fmt::format("  {} {} {}", finding.expected.pair.text(), kept_words(finding.indication, std::nullopt), word),
          finding.outcome == Outcome::fail ? "1;31" : "33");
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

}  // namespace switchwright::cli
