// The marks that a display or a status byte can show. A definition maps each bit ("byte.bit") to one of these
// words, so that a relative of a chip with other positions needs a table and no code.
#pragma once

#include <bitset>
#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "meter/decode/scaled.hpp"
#include "switchwright/core/reading.hpp"

namespace switchwright {

enum class Symbol {
  ac,
  dc,
  autorange,
  minus,
  point_before_2,
  point_before_3,
  point_before_4,
  nano,
  micro,
  milli,
  kilo,
  mega,
  percent,
  diode,
  continuity,
  farad,
  ohm,
  volt,
  ampere,
  hertz,
  celsius,
  fahrenheit,
  relative,
  hold,
  low_battery,
  maximum,
  minimum,
  over_range,
  not_a_number,
  judge,    ///< nibble frames: set means frequency, clear means duty
  ignored,  ///< a mark that says nothing about the value
  count_,
};

std::optional<Symbol> symbol_named(std::string_view word);
/// Every word, for near names.
const std::vector<std::string>& symbol_words();
bool is_symbol_word(std::string_view word);

class Symbols {
 public:
  void set(Symbol symbol) { bits_.set(static_cast<std::size_t>(symbol)); }
  bool has(Symbol symbol) const { return bits_.test(static_cast<std::size_t>(symbol)); }

 private:
  std::bitset<static_cast<std::size_t>(Symbol::count_)> bits_;
};

/// hold, relative, low battery, auto and min/max as Reading wants them.
ReadingFlags flags_of(const Symbols& symbols);
Mode mode_of(const Symbols& symbols);
/// The one unit with its one prefix; nothing when there is none, or two.
std::optional<Unit> unit_of(const Symbols& symbols);

/// The bits of a frame and what they mean, from a table "BYTE.BIT" = "word".
class BitTable {
 public:
  BitTable() = default;
  /// @param index_of the place in the frame of the byte that a key names; see byte_number and the nibble
  /// frames
  BitTable(const std::map<std::string, std::string>& table, int (*index_of)(std::string_view byte_name));
  /// Adds the symbols of one byte. False when a bit is set that the table does not list: an unknown mark is
  /// never ignored silently.
  bool add(int index, unsigned byte, Symbols& symbols) const;

 private:
  struct Row {
    std::optional<Symbol> bit[8];
  };
  std::vector<Row> rows_;
};

/// "BYTE.BIT" split; nothing unless BIT is 0 to 7.
struct BitName {
  std::string_view byte;
  int bit = 0;
};
std::optional<BitName> bit_named(std::string_view key);
/// "0" to "99" as a number, -1 for anything else.
int byte_number(std::string_view text);

}  // namespace switchwright
