// A pattern for one line of text with the fields of a reading in it. Deliberately simpler than a regular
// expression: it is matched from left to right without going back, so no definition can make the tool hang.
//
//   {value}     a number ("-1.234", "+2.5E-3"), or a word of the words table ("O.L"), with or without a sign
//   {unit}      characters up to the next blank, or up to the literal that follows in the pattern
//   {function}  the same
//   {word}      the same, not looked at
//   {digits}    one or more digits, not looked at
//   a blank     any number of blanks, none too (a tab is itself)
//   all else    itself
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "meter/decode/scaled.hpp"

namespace switchwright {

struct LineFields {
  std::optional<Scaled> number;  ///< absent when a word stands in its place
  std::string_view value_word;
  std::string_view unit;
  std::string_view function;
};

class LinePattern {
 public:
  /// Nothing when a field is unknown, twice there, not closed, or when {value} is missing.
  static std::optional<LinePattern> compile(std::string_view text);

  /// @param words longest first; what may stand in place of a number
  std::optional<LineFields> match(std::string_view line, const std::vector<std::string>& words) const;

  bool has_unit() const { return has(Kind::unit); }
  bool has_function() const { return has(Kind::function); }

 private:
  enum class Kind { literal, blanks, value, unit, function, word, digits };
  struct Piece {
    Kind kind = Kind::literal;
    char literal = 0;
  };
  bool has(Kind kind) const;
  bool take_value(std::string_view& rest, const std::vector<std::string>& words, LineFields& fields) const;

  std::vector<Piece> pieces_;
};

}  // namespace switchwright
