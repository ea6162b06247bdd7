#include "cli/view/verdict_page.hpp"

#include <poll.h>
#include <termios.h>
#include <unistd.h>

#include <algorithm>
#include <cctype>
#include <optional>

#include "cli/output.hpp"
#include "cli/view/views.hpp"
#include "switchwright/bench/words.hpp"
#include "switchwright/core/text.hpp"

namespace switchwright::cli {

namespace {

/// Single keys without echo while it lives; Ctrl-C is a key like the others.
class SingleKeys {
 public:
  SingleKeys() {
    if (::tcgetattr(STDIN_FILENO, &before_) != 0) return;
    termios raw = before_;
    raw.c_lflag &= ~static_cast<tcflag_t>(ICANON | ECHO | ISIG);
    raw.c_cc[VMIN] = 1;
    raw.c_cc[VTIME] = 0;
    set_ = ::tcsetattr(STDIN_FILENO, TCSANOW, &raw) == 0;
  }
  ~SingleKeys() {
    if (set_) ::tcsetattr(STDIN_FILENO, TCSANOW, &before_);
  }
  SingleKeys(const SingleKeys&) = delete;
  SingleKeys& operator=(const SingleKeys&) = delete;

  /// Nothing within a fifth of a second is nothing; 4 (end of input) when the terminal is gone.
  std::optional<char> next() const {
    constexpr int wait_ms = 200;
    pollfd input{STDIN_FILENO, POLLIN, 0};
    if (::poll(&input, 1, wait_ms) <= 0) return std::nullopt;
    char c = 0;
    return ::read(STDIN_FILENO, &c, 1) == 1 ? c : '\x04';
  }

 private:
  termios before_{};
  bool set_ = false;
};

Page page_of(const VerdictScreen& screen) {
  const Verdict& verdict = screen.reached.verdict;
  Page page;
  page.head = screen.head;
  page.letters = verdict_letters(verdict);
  page.letters_paint = paint_of(verdict.outcome);
  page.say = {{terminal_safe(headline_beside_word(verdict)), "1", 0}};
  for (const VerdictLine& line : verdict_lines(verdict))
    page.details.push_back(
        {(line.label.empty() ? "" : line.label + ": ") + terminal_safe(line.text), "", 2 + 2 * line.level});
  page.ask = {{"Next: " + screen.next_command, "", 0}};
  if (screen.next_part_offered) page.keys.push_back({"n", "next part"});
  page.keys.push_back({"Enter", "done"});
  return page;
}

}  // namespace

bool show_verdict(const VerdictScreen& screen) {
  const bool utf8 = speaks_utf8();
  bool next_part = false;
  {
    const SingleKeys keys;
    TerminalSize drawn_at{0, 0};
    put("\x1b[?25l");
    for (;;) {
      if (!(terminal_size() == drawn_at) && takes_text())
        draw(laid_out(page_of(screen), drawn_at = terminal_size(), utf8));
      const auto key = keys.next();
      if (!key) continue;
      next_part = screen.next_part_offered && *key == 'n';
      if (next_part || *key == '\n' || *key == '\r' || *key == 'q' || *key == '\x03' || *key == '\x04') break;
    }
    put("\x1b[?25h\x1b[2J\x1b[H");
  }
  put(verdict_words(screen.reached, colour()));
  return next_part;
}

const char* paint_of(Outcome outcome) {
  return outcome == Outcome::pass ? "1;32" : outcome == Outcome::fail ? "1;31" : "1;33";
}

std::string verdict_words(const VerdictReached& event, bool coloured) {
  const Verdict& verdict = event.verdict;
  const std::size_t columns = stdout_is_terminal() ? terminal_size().columns : 1000;  // a log keeps its lines whole
  const std::string word = verdict_word(verdict);
  std::string head = paragraph(word + "  ", terminal_safe(headline_beside_word(verdict)), columns);
  if (coloured) head.replace(0, word.size(), painted(word, paint_of(verdict.outcome)));
  std::string text = "\n" + head;
  for (const VerdictLine& line : verdict_lines(verdict)) {
    std::string first = "  " + line.label;
    first.append(line.label.empty() ? 2 * line.level : first.size() < 12 ? 12 - first.size() : 1, ' ');
    text += paragraph(first, terminal_safe(line.text), columns);
  }
  return text;
}

}  // namespace switchwright::cli
