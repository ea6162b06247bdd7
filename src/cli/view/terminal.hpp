// What the terminal can do, asked in one place: whether it draws, how large it is, and how a text is broken to fit it.
#pragma once

#include <cstddef>
#include <string>
#include <vector>

namespace switchwright::cli {

struct TerminalSize {
  std::size_t columns = 80;
  std::size_t rows = 24;
  friend bool operator==(const TerminalSize&, const TerminalSize&) = default;
};
/// Of the terminal on standard output just now; 80 x 24 where it does not say.
TerminalSize terminal_size();

/// A person sits at a terminal that can move its cursor. Where it cannot (TERM is dumb, empty or not set) every command
/// gives plain lines.
bool can_draw();
/// The terminal takes more text just now. It does not while a person has stopped it (Ctrl-S): then nothing is drawn and
/// no key counts, since nobody can have seen what it would answer.
bool takes_text();
/// Block characters can be shown.
bool speaks_utf8();

/// Columns that a text takes on screen.
std::size_t width_of(const std::string& text);
/// Lines of at most `columns` columns, broken at blanks; a word that is wider by itself is broken where it must be.
/// At least one line, which may be empty.
std::vector<std::string> wrapped(const std::string& text, std::size_t columns);
/// The text with its further lines indented under the first, each line ended.
std::string paragraph(const std::string& first, const std::string& text, std::size_t columns);

/// In colour where colour is wanted; `code` as in SGR, "1;31".
std::string painted(const std::string& text, const char* code);

}  // namespace switchwright::cli
