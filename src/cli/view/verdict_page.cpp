#include "cli/view/verdict_page.hpp"

#include <poll.h>
#include <termios.h>
#include <unistd.h>

#include <algorithm>
#include <cctype>
#include <optional>

#include "cli/output.hpp"
#include "cli/view/views.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/explain/diagnosis.hpp"
#include "switchwright/judge/wording.hpp"

namespace switchwright::cli {

namespace {

/// More than so many undecided readings are counted, not listed.
constexpr std::size_t most_undecided = 6;
constexpr std::size_t most_explanations = 3;

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

template <class Finding>
void add_deviations(std::vector<VerdictLine>& lines, const std::vector<const Finding*>& deviations) {
  for (const Finding* finding : deviations)
    lines.push_back({to_string(finding->severity.value_or(Severity::minor)), finding->sentence, 0});
}

template <class Finding>
void add_undecided(std::vector<VerdictLine>& lines, const std::vector<Finding>& findings, std::size_t& shown) {
  for (const Finding& finding : findings)
    if (finding.outcome == Outcome::undecided && shown++ < most_undecided) lines.push_back({"undecided", finding.sentence, 0});
}

/// What was asked and did not pass, and what was not asked at all.
void add_scope(std::vector<VerdictLine>& lines, const Scope& scope, ScopePart part) {
  const ScopeItem& item = scope[part];
  if (item.decided == Decided::pass || (part == ScopePart::stated && !scope.asked(part))) return;
  const std::string decided =
      item.decided == Decided::not_asked ? "not asked for." : to_string(item.decided) + ": " + item.reason + ".";
  lines.push_back({to_string(part), decided + (item.how.empty() ? "" : " " + item.how), 0});
}

/// A pass for something is never shown as a bare one: "PASS" over "FOR CONTINUITY" over "SOUNDNESS NOT DECIDED".
std::vector<std::string> verdict_letters(const Verdict& verdict) {
  std::string rest = verdict_word(verdict);
  std::vector<std::string> lines;
  for (auto end = rest.find(' '); end != std::string::npos && lines.size() < 2; end = rest.find(", ")) {
    lines.push_back(rest.substr(0, end));
    rest.erase(0, rest.find_first_not_of(", ", end));
  }
  lines.push_back(rest);
  return lines;
}

Page page_of(const VerdictScreen& screen) {
  const Verdict& verdict = screen.reached.verdict;
  Page page;
  page.head = screen.head;
  page.letters = verdict_letters(verdict);
  page.letters_paint = paint_of(verdict.outcome);
  page.say = {{terminal_safe(headline_beside_word(verdict)), "1", 0}};
  for (const VerdictLine& line : verdict_lines(verdict))
    page.details.push_back({(line.label.empty() ? "" : line.label + ": ") + terminal_safe(line.text), "", 2 + 2 * line.level});
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
      if (!(terminal_size() == drawn_at) && takes_text()) draw(laid_out(page_of(screen), drawn_at = terminal_size(), utf8));
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

const char* paint_of(Outcome outcome) { return outcome == Outcome::pass ? "1;32" : outcome == Outcome::fail ? "1;31" : "1;33"; }

std::string verdict_word(const Verdict& verdict) {
  std::string word = title_of(verdict);
  for (char& c : word) c = static_cast<char>(std::toupper(static_cast<unsigned char>(c)));
  return word;
}

std::string headline_beside_word(const Verdict& verdict) {
  // "Fail: 2 of 60 ...": the beginning is shown large already.
  const std::string first = title_of(verdict) + ": ";
  return wording::capitalised(verdict.headline.starts_with(first) ? verdict.headline.substr(first.size()) : verdict.headline);
}

std::vector<VerdictLine> verdict_lines(const Verdict& verdict) {
  std::vector<VerdictLine> lines;
  if (std::any_of(scope_parts.begin(), scope_parts.end(), [&](ScopePart part) { return verdict.scope.asked(part); }))
    for (const ScopePart part : scope_parts) add_scope(lines, verdict.scope, part);
  add_deviations(lines, verdict.deviations());
  add_deviations(lines, verdict.voltage_deviations());
  for (const StatedFinding& finding : verdict.stated)
    lines.push_back({finding.outcome == Outcome::fail ? to_string(finding.wanted.severity) : to_string(finding.outcome),
                     finding.sentence, 0});
  for (const InspectionFinding& inspection : verdict.inspection)
    if (inspection.answer == false)
      lines.push_back({to_string(inspection.question.severity), "answered no: " + inspection.question.ask, 0});
  if (verdict.diagnosis) {
    lines.push_back({"", "what explains it", 0});
    for (const ToldLine& line : told(*verdict.diagnosis, most_explanations))
      lines.push_back({"", line.text, static_cast<std::size_t>(line.level) + 1});
  }
  std::size_t shown = 0;
  add_undecided(lines, verdict.findings, shown);
  add_undecided(lines, verdict.voltages, shown);
  if (shown > most_undecided)
    lines.push_back({"undecided", std::to_string(shown - most_undecided) + " more; the report lists them", 0});
  for (const std::string& remark : verdict.remarks) lines.push_back({"note", remark, 0});
  return lines;
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
