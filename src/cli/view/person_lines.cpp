// A person led in plain lines, where the terminal cannot draw: every instruction as a sentence, every settled reading as
// another, the same keys as on the screen.
#include <fmt/format.h>

#include <optional>

#include "cli/output.hpp"
#include "cli/view/operator_keys.hpp"
#include "cli/view/views.hpp"
#include "switchwright/bench/words.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/meter/typed.hpp"

namespace switchwright::cli {

namespace {

class PersonLines final : public View {
 public:
  explicit PersonLines(QualifySession& session) : keys_(session, [](const std::string& text) { line(text); }) {}

  void on(const Event& event, Instant) override {
    if (const auto* opened = std::get_if<SessionOpened>(&event)) open(*opened);
    if (const auto* shown = std::get_if<StepShown>(&event)) show(*shown);
    if (const auto* taken = std::get_if<ReadingTaken>(&event)) taken_in(*taken);
    if (const auto* settled = std::get_if<Settled>(&event)) settle(*settled);
    if (std::get_if<Unsettled>(&event)) line("it moves again");
    if (const auto* note = std::get_if<Note>(&event)) line(note->text);
    if (const auto* link = std::get_if<LinkChanged>(&event))
      if (link->change.remark || (link->change.state != LinkState::open && link->change.state != LinkState::alive))
        line("link: " + link->change.detail);
    if (const auto* verdict = std::get_if<VerdictReached>(&event)) put(verdict_words(*verdict, false));
    if (const auto* completed = std::get_if<Completed>(&event))
      line("", fmt::format("All {} readings are taken.", completed->readings));
    if (const auto* stopped = std::get_if<Stopped>(&event)) line("", stopped->text);
  }

  void key(char c) override {
    if (!takes_text()) return;
    const std::string before = keys_.typing() ? keys_.typed() : std::string{};
    keys_.key(c);
    // Echo is off; what is typed shows all the same.
    const std::string after = keys_.typing() ? keys_.typed() : std::string{};
    if (before.empty() && !after.empty())
      put("  " + terminal_safe(after));
    else if (after.size() > before.size())
      put(terminal_safe(after.substr(before.size())));
    else if (!before.empty() && after.empty())
      put("\n");
    flush_output();
  }

 private:
  /// Broken at words on a terminal; a log keeps its lines whole.
  static void line(const std::string& first, const std::string& text) {
    put(paragraph(first, terminal_safe(text), stdout_is_terminal() ? terminal_size().columns : 1000));
    flush_output();
  }
  static void line(const std::string& text) { line("  ", text); }

  void open(const SessionOpened& opened) {
    opened_ = opened.header;
    keys_.set_nothing_skipped(opened_.kind == RecordKind::learn);
    line("", fmt::format("{} {} as {}, record {}", opened_.part.empty() ? "A part" : opened_.part, opened_.serial,
                         opened_.profile_id, opened_.id));
    for (const std::string& warning : opened.warnings) line("before we start: " + warning);
  }

  void show(const StepShown& shown) {
    step_ = shown.step;
    trouble_.clear();
    put("\n");
    line("",
         fmt::format(
             "step {} of {}{}: {}{}", step_.number, shown.of,
             shown.attempt > 1 ? fmt::format(", attempt {}", shown.attempt) : "",
             step_.kind == StepKind::voltage || step_.kind == StepKind::supply_at_end ? "LIVE, THE SUPPLY IS ON. " : "",
             step_.instruction));
    show_keys(false);
  }

  /// The keys are repeated only when they are others.
  void show_keys(bool needs_contact) {
    std::string text;
    for (const KeyWord& key : keys_.offered(step_, needs_contact))
      text += (text.empty() ? "" : ", ") + key.key + " " + key.does;
    if (text == keys_shown_) return;
    keys_shown_ = text;
    line("keys: " + text);
  }

  void taken_in(const ReadingTaken& taken) {
    if (taken.refused == trouble_) return;
    trouble_ = taken.refused;
    if (!trouble_.empty()) line(trouble_);
  }

  void settle(const Settled& settled) {
    const std::string difference = difference_words(settled);
    if (stdout_is_terminal()) put("\a");
    line(fmt::format("{} {}{}", judged_words(settled),
                     step_.on_another_display || is_typed(opened_.meter_id) ? "as typed" : "settled",
                     difference.empty() ? "" : " (" + difference + ")"));
    if (const std::string words = outlook_words(settled); !words.empty()) line(words);
    if (settled.needs_contact_statement) line(contact_question(step_));
    show_keys(settled.needs_contact_statement);
  }

  OperatorKeys keys_;
  RecordHeader opened_;
  Step step_;
  std::string trouble_;
  std::string keys_shown_;
};

}  // namespace

std::unique_ptr<View> make_person_lines(QualifySession& session) { return std::make_unique<PersonLines>(session); }

std::unique_ptr<View> make_person_view(QualifySession& session) {
  return can_draw() ? make_screen_view(session) : make_person_lines(session);
}

}  // namespace switchwright::cli
