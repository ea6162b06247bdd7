// One screen for a person at the bench: what to do in large letters, the reading, what is asked at the foot. Everything is
// broken at words to the width there is. Where the height does not do, blank lines go first, then the letters shrink, then the
// details are cut; the instruction and the keys stay to the last.
#pragma once

#include <string>
#include <vector>

#include "cli/view/terminal.hpp"

namespace switchwright::cli {

/// "Enter" keeps, "r" reads again.
struct KeyWord {
  std::string key;
  std::string does;
};

struct Paragraph {
  std::string text;
  const char* paint = "";  ///< SGR code; empty: none
  std::size_t indent = 0;
};

struct Page {
  std::string head;                  ///< where we are; goes when room is short
  std::string alarm;                 ///< stays
  std::vector<std::string> letters;  ///< one text per line of letters
  const char* letters_paint = "";
  std::vector<Paragraph> say;      ///< the instruction; stays
  std::vector<Paragraph> show;     ///< the reading: stays before the details
  std::vector<Paragraph> details;  ///< cut at their end when room is short, and the cut is said
  std::vector<Paragraph> ask;      ///< what waits for an answer now; stays
  std::vector<KeyWord> keys;       ///< stay
};

/// At most `size.rows` lines of at most `size.columns` - 1 columns, painted.
std::vector<std::string> laid_out(const Page& page, TerminalSize size, bool utf8);

/// Draws the lines from the top of the screen, leaving the terminal's own scrollback alone.
void draw(const std::vector<std::string>& lines);

}  // namespace switchwright::cli
