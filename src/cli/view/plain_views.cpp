#include "cli/view/plain_views.hpp"

#include <fmt/format.h>

#include "cli/output.hpp"
#include "switchwright/core/text.hpp"

namespace switchwright::cli {

namespace {

/// What every plain view says: notes, the link, why it stopped.
class PlainLines : public View {
 public:
  void on(const Event& event, Instant) override {
    if (const auto* opened = std::get_if<SessionOpened>(&event))
      for (const std::string& warning : opened->warnings) put_line("  before we start: " + terminal_safe(warning));
    if (const auto* kept = std::get_if<Kept>(&event)) keep(*kept);
    if (const auto* note = std::get_if<Note>(&event)) put_line("  note: " + terminal_safe(note->text));
    if (const auto* link = std::get_if<LinkChanged>(&event))
      if (link->change.state != LinkState::open && link->change.state != LinkState::alive)
        put_line("  link: " + terminal_safe(link->change.detail));
    if (const auto* stopped = std::get_if<Stopped>(&event)) put_line("\n" + terminal_safe(stopped->text));
  }

 protected:
  virtual void keep(const Kept& kept) = 0;
};

class LearnLines final : public PlainLines {
  void keep(const Kept& kept) override {
    if (kept.step.kind != StepKind::measure) return;
    const Indication& read = kept.indication;
    if (row_.empty()) row_ = fmt::format("  {:<10}", kept.step.arrangement.pair.text());
    row_ += fmt::format(
        "  {} {:<12}", kept.step.arrangement.position,
        read.state == ReadingState::finite ? human_value(read.value, read.quantity, read.resolution) : "open");
    if (!kept.step.last_of_placement) return;
    put_line(row_.substr(0, row_.find_last_not_of(' ') + 1));
    row_.clear();
  }
  std::string row_;
};

class DropLines final : public PlainLines {
  void keep(const Kept& kept) override {
    if (kept.finding) put_line("  " + kept.finding->sentence);
  }
};

}  // namespace

std::unique_ptr<View> make_learn_lines() { return std::make_unique<LearnLines>(); }
std::unique_ptr<View> make_drop_lines() { return std::make_unique<DropLines>(); }

}  // namespace switchwright::cli
