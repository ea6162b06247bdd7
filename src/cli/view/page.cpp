#include "cli/view/page.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>

#include "cli/output.hpp"
#include "cli/view/big_text.hpp"

namespace switchwright::cli {

namespace {

using Lines = std::vector<std::string>;

/// What is given up, one step after the other.
struct Concessions {
  LetterSize letters = LetterSize::tall;
  bool blank_lines = true;
  bool head = true;
  bool short_keys = false;
};
constexpr std::array steps{
    Concessions{LetterSize::tall, true, true, false},     Concessions{LetterSize::half, true, true, false},
    Concessions{LetterSize::half, false, true, false},    Concessions{LetterSize::line, true, true, false},
    Concessions{LetterSize::line, false, true, false},    Concessions{LetterSize::joined, false, true, false},
    Concessions{LetterSize::joined, false, false, false}, Concessions{LetterSize::none, false, false, false},
    Concessions{LetterSize::none, false, false, true},
};

void add(Lines& lines, const std::vector<Paragraph>& paragraphs, std::size_t columns) {
  for (const Paragraph& p : paragraphs) {
    const std::size_t indent = std::min(p.indent, columns / 4);
    for (const std::string& line : wrapped(p.text, columns - indent))
      lines.push_back(std::string(indent, ' ') + painted(line, p.paint));
  }
}

/// Keys are never parted from what they do, as far as a line holds both.
Lines key_lines(const std::vector<KeyWord>& keys, std::size_t columns, bool short_ones) {
  Lines lines;
  std::string line;
  std::size_t width = 0;
  for (const KeyWord& key : keys) {
    const std::string plain = short_ones || key.does.empty() ? key.key : key.key + " " + key.does;
    const std::string gap = line.empty() ? "" : short_ones ? " " : "   ";
    if (!line.empty() && width + gap.size() + width_of(plain) > columns) {
      lines.push_back(std::move(line));
      line.clear(), width = 0;
    }
    if (line.empty() && width_of(plain) > columns) {
      for (const std::string& part : wrapped(plain, columns)) lines.push_back(part);
      continue;
    }
    const std::string words = painted(key.key, "1") + plain.substr(key.key.size());
    width += (line.empty() ? 0 : gap.size()) + width_of(plain);
    line += (line.empty() ? "" : gap) + words;
  }
  if (!line.empty()) lines.push_back(std::move(line));
  return lines;
}

Lines letter_lines(const Page& page, std::size_t columns, LetterSize size, bool blank_lines, bool utf8) {
  Lines lines;
  if (size == LetterSize::none || page.letters.empty()) return lines;
  const auto put = [&](const Lines& some) {
    for (const std::string& line : some) lines.push_back(painted(line, page.letters_paint));
  };
  if (size == LetterSize::joined) {
    std::string all;
    for (const std::string& text : page.letters) all += (all.empty() ? "" : "  ") + text;
    put(wrapped(all, columns));
    return lines;
  }
  for (std::size_t i = 0; i < page.letters.size(); ++i) {
    if (i > 0 && blank_lines) lines.emplace_back();
    put(big_text(page.letters[i], columns, size, utf8));
  }
  return lines;
}

}  // namespace

std::vector<std::string> laid_out(const Page& page, TerminalSize size, bool utf8) {
  const std::size_t columns = std::max<std::size_t>(size.columns, 2) - 1;  // the last column wraps in some terminals
  Lines top, details, foot;
  for (const Concessions& give : steps) {
    top.clear(), details.clear(), foot.clear();
    const auto part = [&](Lines& lines) {
      if (give.blank_lines && !lines.empty() && !lines.back().empty()) lines.emplace_back();
    };
    if (give.head && !page.head.empty())
      for (const std::string& line : wrapped(page.head, columns)) top.push_back(line);
    if (!page.alarm.empty())
      for (const std::string& line : wrapped(page.alarm, columns)) top.push_back(painted(line, "1;31"));
    part(top);
    for (std::string& line : letter_lines(page, columns, give.letters, give.blank_lines, utf8))
      top.push_back(std::move(line));
    part(top);
    add(top, page.say, columns);
    if (!page.show.empty()) part(top);
    add(top, page.show, columns);
    add(details, page.details, columns);
    if (!page.ask.empty()) {
      if (give.blank_lines) foot.emplace_back();
      add(foot, page.ask, columns);
    }
    if (give.blank_lines) foot.emplace_back();
    for (std::string& line : key_lines(page.keys, columns, give.short_keys)) foot.push_back(std::move(line));
    // Letters make room for some details, not for all that could be said.
    const std::size_t wanted = std::min(details.size(), std::max<std::size_t>(3, size.rows / 3));
    if (top.size() + wanted + foot.size() <= size.rows) break;
  }
  // Still too much: the details are cut, then what stands above the foot.
  const std::size_t room = size.rows > foot.size() ? size.rows - foot.size() : 0;
  if (top.size() + details.size() > room && !details.empty()) {
    const std::size_t left = room > top.size() ? room - top.size() : 0;
    const std::size_t hidden = details.size() - std::min(details.size(), left > 0 ? left - 1 : 0);
    details.resize(details.size() - hidden);
    if (left > 0)
      details.push_back(painted(
          wrapped(fmt::format("({} more {}: a taller window shows them)", hidden, hidden == 1 ? "line" : "lines"),
                  columns)
              .front(),
          "2"));
  }
  if (top.size() > room) top.resize(room);
  Lines lines = std::move(top);
  std::move(details.begin(), details.end(), std::back_inserter(lines));
  // The keys stand at the foot, in the same place for every step.
  const std::size_t foot_at =
      std::min(size.rows, std::max<std::size_t>(24, lines.size() + foot.size())) - std::min(size.rows, foot.size());
  while (lines.size() < foot_at) lines.emplace_back();
  std::move(foot.begin(), foot.end(), std::back_inserter(lines));
  if (lines.size() > size.rows) lines.erase(lines.begin(), lines.end() - static_cast<std::ptrdiff_t>(size.rows));
  return lines;
}

void draw(const std::vector<std::string>& lines) {
  std::string frame = "\x1b[H";
  for (std::size_t i = 0; i < lines.size(); ++i) frame += (i > 0 ? "\r\n" : "") + lines[i] + "\x1b[K";
  put(frame + "\x1b[J");
  flush_output();
}

}  // namespace switchwright::cli
