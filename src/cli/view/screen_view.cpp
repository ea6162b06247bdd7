// The bench screen: one instruction at a time in large letters, the reading below it, what is asked of the person at the
// foot. Redrawn whole at every event and when the window changes; the terminal's own scrollback is left alone.
#include <fmt/format.h>

#include <optional>

#include "cli/output.hpp"
#include "cli/view/operator_keys.hpp"
#include "cli/view/page.hpp"
#include "cli/view/verdict_page.hpp"
#include "cli/view/views.hpp"
#include "switchwright/bench/words.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/meter/typed.hpp"

namespace switchwright::cli {

namespace {

class ScreenView final : public View {
 public:
  explicit ScreenView(QualifySession& session)
      : keys_(session, [this](std::string text) { message_ = std::move(text); }) {
    put("\x1b[?25l\x1b[2J");
  }
  ~ScreenView() override {
    try {
      put("\x1b[?25h");
      put_line("");
    } catch (const std::exception&) {
      // Nobody looks any more.
    }
  }

  void on(const Event& event, Instant) override {
    if (const auto* opened = std::get_if<SessionOpened>(&event)) {
      opened_ = *opened;
      keys_.set_nothing_skipped(opened_.header.kind == RecordKind::learn);
    }
    if (const auto* shown = std::get_if<StepShown>(&event)) show(*shown);
    if (const auto* taken = std::get_if<ReadingTaken>(&event)) {
      reading_ = taken->reading;
      trouble_ = taken->refused;
    }
    if (const auto* settled = std::get_if<Settled>(&event)) {
      settled_ = *settled;
      message_.clear();
      bell();
    }
    if (std::get_if<Unsettled>(&event)) {
      settled_.reset();
      message_.clear();
    }
    if (const auto* note = std::get_if<Note>(&event)) message_ = note->text;
    if (const auto* link = std::get_if<LinkChanged>(&event)) link_changed(link->change);
    if (const auto* verdict = std::get_if<VerdictReached>(&event)) end(verdict_words(*verdict, colour()));
    if (const auto* completed = std::get_if<Completed>(&event))
      end(fmt::format("All {} readings are taken.\n", completed->readings));
    if (const auto* stopped = std::get_if<Stopped>(&event)) end(terminal_safe(stopped->text) + "\n");
    redraw();
  }

  void key(char c) override {
    if (!takes_text()) return;  // stopped with Ctrl-S: nobody has seen what this key would answer
    keys_.key(c);
    redraw();
  }

  void tick() override {
    if (undrawn_ || !(terminal_size() == drawn_at_)) redraw();
  }

 private:
  void show(const StepShown& shown) {
    shown_ = shown;
    settled_.reset();
    reading_.reset();
    trouble_.clear();
    message_.clear();
  }

  void link_changed(const LinkChange& change) {
    if (change.remark) {
      message_ = change.detail;
      return;
    }
    link_ = change.state == LinkState::alive || change.state == LinkState::open ? "" : change.detail;
    if (link_.empty()) return;
    reading_.reset();
    settled_.reset();
    bell();
  }

  static void bell() {
    if (takes_text()) put("\a");
  }

  void end(const std::string& words) {
    put("\x1b[2J\x1b[H" + words);
    over_ = true;
  }

  std::vector<std::string> letters() const {
    const Arrangement& wanted = shown_.step.arrangement;
    if (wanted.power) return {*wanted.power ? "SUPPLY ON" : "SUPPLY OFF"};
    switch (wanted.probes) {
      case Probes::on_pair: return {wanted.pair.first() + "  " + wanted.pair.second(), wanted.position};
      case Probes::shorted: return {"TIPS TOGETHER"};
      case Probes::on_known_source: return {"LIVE SOURCE"};
      case Probes::off:
        if (shown_.step.kind == StepKind::leads_apart) return {"TIPS APART"};
        return {};
      default: return {};
    }
  }

  std::string reading_words() const {
    if (!link_.empty()) return terminal_safe(link_);
    if (!trouble_.empty()) return terminal_safe(trouble_);
    if (!reading_) return typed() ? "type what the display shows" : "waiting for the meter";
    return (settled_ ? judged_words(*settled_) : display_words(*reading_)) +
           (reading_->flags.low_battery ? "   (the meter's battery is low)" : "");
  }

  bool typed() const { return shown_.step.on_another_display || is_typed(opened_.header.meter_id); }
  const char* how_it_stands() const { return typed() ? "as typed" : "settled"; }

  Page page() const {
    const Step& step = shown_.step;
    Page page;
    page.head = fmt::format("step {} of {}{}   {} {}   {}", step.number, shown_.of,
                            shown_.attempt > 1 ? fmt::format(", attempt {}", shown_.attempt) : "",
                            terminal_safe(opened_.header.part), terminal_safe(opened_.header.serial),
                            opened_.header.profile_id);
    if (step.kind == StepKind::voltage || step.kind == StepKind::supply_at_end)
      page.alarm = "LIVE: the supply is on. Touch nothing but the probe grips.";
    page.letters = letters();
    page.say.push_back({step.instruction, "1", 0});
    if (step.kind == StepKind::acknowledge) {
      for (const std::string& warning : opened_.warnings)
        page.details.push_back({"Before we start: " + warning, "", 0});
    } else if (step.kind != StepKind::inspect) {
      page.show.push_back({reading_words() + (settled_ ? "   " + std::string{how_it_stands()} : ""), "1", 2});
    }
    if (settled_) {
      if (const std::string words = difference_words(*settled_); !words.empty())
        page.details.push_back({"(" + words + ")", "", 2});
      if (const std::string words = outlook_words(*settled_); !words.empty())
        page.details.push_back({words, paint_of(outlook_outcome(*settled_)), 2});
    }
    const bool needs_contact = settled_ && settled_->needs_contact_statement;
    if (needs_contact && message_.empty()) page.ask.push_back({contact_question(step), "33", 0});
    if (!message_.empty()) page.ask.push_back({terminal_safe(message_), "33", 0});
    if (keys_.typing()) page.ask.push_back({terminal_safe(keys_.typed()) + "_", "", 0});
    page.keys = keys_.offered(step, needs_contact);
    return page;
  }

  void redraw() {
    undrawn_ = false;
    if (over_ || shown_.step.number == 0) return;
    if (!takes_text()) {
      undrawn_ = true;  // stopped with Ctrl-S: drawn as soon as the person lets it go on
      return;
    }
    drawn_at_ = terminal_size();
    draw(laid_out(page(), drawn_at_, utf8_));
  }

  OperatorKeys keys_;
  const bool utf8_ = speaks_utf8();
  SessionOpened opened_;
  StepShown shown_;
  std::optional<Reading> reading_;
  std::optional<Settled> settled_;
  std::string trouble_;
  std::string message_;
  std::string link_;
  TerminalSize drawn_at_;
  bool undrawn_ = false;
  bool over_ = false;
};

}  // namespace

std::unique_ptr<View> make_screen_view(QualifySession& session) { return std::make_unique<ScreenView>(session); }

}  // namespace switchwright::cli
