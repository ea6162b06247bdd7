// The bench screen: one instruction at a time in large letters, the reading below it, what is asked of the person at the
// foot. Redrawn whole at every event; the terminal's own scrollback is left alone.
#include <fmt/format.h>
#include <sys/ioctl.h>
#include <unistd.h>

#include <vector>

#include "cli/view/big_text.hpp"
#include "cli/output.hpp"
#include "cli/view/table.hpp"
#include "cli/view/views.hpp"
#include "switchwright/core/text.hpp"

namespace switchwright::cli {

namespace {

struct Size {
  std::size_t columns = 80;
  std::size_t rows = 24;
};

Size terminal_size() {
  winsize size{};
  if (::ioctl(STDOUT_FILENO, TIOCGWINSZ, &size) == 0 && size.ws_col > 20 && size.ws_row > 8) return {size.ws_col, size.ws_row};
  return {};
}

std::vector<std::string> wrapped(const std::string& text, std::size_t columns) {
  std::vector<std::string> lines;
  std::string line;
  std::size_t at = 0;
  while (at < text.size()) {
    const std::size_t end = std::min(text.find(' ', at), text.size());
    const std::string word = text.substr(at, end - at);
    if (!line.empty() && width_of(line) + 1 + width_of(word) > columns) {
      lines.push_back(std::move(line));
      line.clear();
    }
    line += (line.empty() ? "" : " ") + word;
    at = end + 1;
  }
  if (!line.empty()) lines.push_back(line);
  return lines;
}

class ScreenView final : public View {
 public:
  explicit ScreenView(QualifySession& session) : session_(session) { put("\x1b[?25l"); }
  ~ScreenView() override {
    try {
      put("\x1b[?25h");
      put_line("");
    } catch (const std::exception&) {
      // Nobody looks any more.
    }
  }

  void on(const Event& event, Instant) override {
    if (const auto* opened = std::get_if<SessionOpened>(&event)) opened_ = *opened;
    if (const auto* shown = std::get_if<StepShown>(&event)) show(*shown);
    if (const auto* taken = std::get_if<ReadingTaken>(&event)) {
      reading_ = taken->reading;
      trouble_ = taken->refused;
    }
    if (const auto* settled = std::get_if<Settled>(&event)) {
      settled_ = *settled;
      message_.clear();
      put("\a");
    }
    if (std::get_if<Unsettled>(&event)) {
      settled_.reset();
      message_.clear();
    }
    if (const auto* note = std::get_if<Note>(&event)) message_ = note->text;
    if (const auto* link = std::get_if<LinkChanged>(&event); link && link->change.remark) {
      message_ = link->change.detail;
    } else if (link) {
      link_ = link->change.state == LinkState::alive || link->change.state == LinkState::open ? "" : link->change.detail;
      if (!link_.empty()) {
        reading_.reset();
        settled_.reset();
        put("\a");
      }
    }
    if (const auto* kept = std::get_if<Kept>(&event)) last_ = kept->finding ? kept->finding->sentence : kept->voltage ? kept->voltage->sentence : "";
    if (const auto* verdict = std::get_if<VerdictReached>(&event)) {
      put("\x1b[2J\x1b[H");
      put(verdict_words(*verdict, colour()));
      over_ = true;
      return;
    }
    if (const auto* completed = std::get_if<Completed>(&event)) {
      put_line(fmt::format("\x1b[2J\x1b[HAll {} readings are taken.", completed->readings));
      over_ = true;
      return;
    }
    if (const auto* stopped = std::get_if<Stopped>(&event)) {
      put_line("\x1b[2J\x1b[H" + terminal_safe(stopped->text));
      over_ = true;
      return;
    }
    draw();
  }

  void key(char c) override {
    if (typing_) {
      type(c);
      return;
    }
    const Step* step = session_.current();
    if (!step) return;
    if (step->kind == StepKind::acknowledge) {
      start_typing("Type your name to acknowledge: ", [this](const std::string& who) {
        if (who.empty())
          message_ = "Without an acknowledgement nothing is measured.";
        else
          session_.acknowledge(who, "typed at the terminal");
      });
      if (c != '\n') type(c);
      draw();
      return;
    }
    switch (c) {
      case 'y':
        if (step->kind == StepKind::inspect) session_.answer(true);
        break;
      case 'n':
        if (step->kind == StepKind::inspect)
          start_typing("What is wrong with it? ", [this](const std::string& text) { session_.answer(false, text); });
        break;
      case '\n':
      case ' ': session_.confirm(); break;
      case 'c': session_.state_contact(); break;
      case 'r': session_.redo(); break;
      case 'p': session_.reseat(); break;
      case 'b': session_.back(); break;
      case 's':
        if (opened_.header.kind == "learn")
          session_.skip({});  // says why not
        else
          start_typing("Why is it skipped? ", [this](const std::string& reason) { session_.skip(reason); });
        break;
      case 'q': session_.stop(); break;
      default: break;
    }
    if (!over_) draw();
  }

 private:
  void show(const StepShown& shown) {
    shown_ = shown;
    settled_.reset();
    reading_.reset();
    trouble_.clear();
    message_.clear();
  }

  void start_typing(const std::string& prompt, std::function<void(const std::string&)> then) {
    typing_ = true;
    prompt_ = prompt;
    typed_.clear();
    then_ = std::move(then);
  }

  void type(char c) {
    if (c == '\n') {
      typing_ = false;
      then_(typed_);
    } else if (c == 127 || c == 8) {
      if (!typed_.empty()) typed_.pop_back();
    } else if (c == 27) {
      typing_ = false;
    } else if (static_cast<unsigned char>(c) >= 32) {
      typed_ += c;
    }
    if (!over_) draw();
  }

  std::string keys() const {
    const Step& step = shown_.step;
    if (step.kind == StepKind::acknowledge) return "type your name and press Enter to acknowledge   Ctrl-C stop";
    if (step.kind == StepKind::inspect) return "y yes   n no   s skip   b back   q stop";
    if (step.kind == StepKind::drop || step.kind == StepKind::drop_reversed || step.kind == StepKind::drop_zero ||
        step.kind == StepKind::drop_zero_after)
      return "Enter keep   r again   p clips and probes again   b back   s skip   q stop and keep";
    if (step.kind == StepKind::voltage) return "Enter keep   r again   b back   s skip   q stop and keep";
    if (step.kind != StepKind::measure) return "Enter go on   r again   b back   q stop";
    const std::string skip = opened_.header.kind == "learn" ? "" : "s skip   ";  // a part is learned from everything
    if (settled_ && settled_->needs_contact_statement)
      return "c both probes touch bare metal   p place the probes again   " + skip + "q stop";
    if (skip.empty()) return "Enter keep   r again   p probe slipped: placement again   b back   q stop and keep";
    return "Enter keep   r again   p probe slipped: placement again   b back   s skip   q stop and keep";
  }

  std::string reading_words() const {
    if (!link_.empty()) return terminal_safe(link_);
    if (!trouble_.empty()) return trouble_;
    if (!reading_) return "waiting for the meter";
    return value_words() + (reading_->flags.low_battery ? "   (the meter's battery is low)" : "");
  }

  std::string value_words() const {
    if (reading_->state == ReadingState::over_range)
      return is_resistance(reading_->quantity) ? "open (over-range)" : "over-range";
    if (!reading_->finite()) return "no number";
    return human_value(reading_->value, reading_->quantity, reading_->resolution);
  }

  void draw() {
    if (over_ || shown_.step.number == 0) return;
    const Size size = terminal_size();
    const Step& step = shown_.step;
    std::vector<std::string> lines;
    const auto add = [&](const std::string& line) { lines.push_back(line); };

    add(fmt::format("step {} of {}{}   {} {}   {}", step.number, shown_.of,
                    shown_.attempt > 1 ? fmt::format(", attempt {}", shown_.attempt) : "",
                    terminal_safe(opened_.header.part), terminal_safe(opened_.header.serial), opened_.header.profile_id));
    if (step.kind == StepKind::voltage || step.kind == StepKind::supply_at_end)
      add(paint("LIVE: the supply is on. Touch nothing but the probe grips.", "1;31"));
    add("");
    if (step.kind == StepKind::acknowledge)
      for (const std::string& warning : opened_.warnings)
        for (const std::string& line : wrapped("Before we start: " + warning, size.columns - 2)) add(line);
    if (step.arrangement.power) {
      for (const auto& line : big_text(*step.arrangement.power ? "SUPPLY ON" : "SUPPLY OFF", size.columns - 2)) add(" " + line);
    } else if (step.arrangement.probes == Probes::on_pair) {
      for (const auto& line : big_text(step.arrangement.pair.first() + "  " + step.arrangement.pair.second(), size.columns - 2))
        add(" " + line);
      add("");
      for (const auto& line : big_text(step.arrangement.position, size.columns - 2)) add(" " + line);
    } else if (step.arrangement.probes == Probes::shorted) {
      for (const auto& line : big_text("TIPS TOGETHER", size.columns - 2)) add(" " + line);
    } else if (step.arrangement.probes == Probes::on_known_source) {
      for (const auto& line : big_text("LIVE SOURCE", size.columns - 2)) add(" " + line);
    }
    add("");
    for (const std::string& line : wrapped(step.instruction, size.columns - 2)) add(bold(line));
    add("");
    if (step.kind != StepKind::acknowledge && step.kind != StepKind::inspect) {
      add("  " + bold(reading_words()) + (settled_ ? "   settled" : ""));
      if (settled_ && settled_->outlook) {
        const Finding& outlook = *settled_->outlook;
        // Open as it should be, and a position that is still to come will witness that the probes touch.
        const bool witness_to_come = outlook.witness == Witness::missing && outlook.expected.state == PairState::open &&
                                     !settled_->needs_contact_statement;
        const std::string words =
            witness_to_come ? "Open, as it should be. A position to come must show that both probes touch." : outlook.sentence;
        const bool good = witness_to_come || outlook.outcome == Outcome::pass;
        for (const std::string& line : wrapped(words, size.columns - 4))
          add("  " + paint(line, good ? "32" : outlook.outcome == Outcome::fail ? "1;31" : "33"));
      }
      if (settled_ && settled_->voltage_outlook) {
        const VoltageFinding& outlook = *settled_->voltage_outlook;
        for (const std::string& line : wrapped(outlook.sentence, size.columns - 4))
          add("  " + paint(line, outlook.outcome == Outcome::pass ? "32" : outlook.outcome == Outcome::fail ? "1;31" : "33"));
      }
      add("");
    }
    if (settled_ && settled_->needs_contact_statement && message_.empty())
      for (const std::string& line :
           wrapped(step.kind == StepKind::measure
                       ? "Open at every position: a probe off the metal looks the same. Do both probes touch bare metal?"
                       : "So little is also what no current at all looks like. Does the supply show the current?",
                   size.columns - 2))
        add(paint(line, "33"));
    if (!message_.empty())
      for (const std::string& line : wrapped(terminal_safe(message_), size.columns - 2)) add(paint(line, "33"));
    if (typing_) add(prompt_ + terminal_safe(typed_) + "_");
    add("");
    for (const std::string& line : wrapped(keys(), size.columns - 2)) add(line);

    std::string frame = "\x1b[H";
    for (std::size_t i = 0; i < lines.size() && i + 1 < size.rows; ++i) frame += lines[i] + "\x1b[K\r\n";
    put(frame + "\x1b[J");
    flush_output();
  }

  static std::string bold(const std::string& text) { return paint(text, "1"); }
  static std::string paint(const std::string& text, const char* code) {
    return colour() ? fmt::format("\x1b[{}m{}\x1b[0m", code, text) : text;
  }

  QualifySession& session_;
  SessionOpened opened_;
  StepShown shown_;
  std::optional<Reading> reading_;
  std::optional<Settled> settled_;
  std::string trouble_;
  std::string message_;
  std::string link_;
  std::string last_;
  bool typing_ = false;
  std::string prompt_;
  std::string typed_;
  std::function<void(const std::string&)> then_;
  bool over_ = false;
};

}  // namespace

std::unique_ptr<View> make_screen_view(QualifySession& session) { return std::make_unique<ScreenView>(session); }

}  // namespace switchwright::cli
