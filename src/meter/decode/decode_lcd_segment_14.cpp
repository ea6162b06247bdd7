// 14-byte LCD segment frame: the meter sends the state of its display segments and nothing else. There is no
// checksum, so all strictness lies in what a display can show: digits that exist, one point, one unit, one
// prefix.
//
//   byte i (1..14) = i in the high nibble, four segments in the low nibble
//   bytes 2 3, 4 5, 6 7, 8 9: digit 1..4 as e f a d c g b (7 bits); bit 3 of the first byte is a symbol
//   (minus, point) bytes 1, 10..14: symbols
//
//   counts = 4000           largest count of the display; with it an over-range in a fixed range tells its
//   range [decoder.digits]        segment code (hex) = "0".."9", " ", "L", "-" [decoder.symbols] "BYTE.BIT" =
//   symbol word
#include <algorithm>
#include <array>
#include <optional>

#include "meter/decode/decoder_kind.hpp"
#include "meter/decode/symbols.hpp"

namespace switchwright {

namespace {

constexpr std::size_t frame_size = 14;
constexpr double torn_after_s = 0.5;  // a frame takes 58 ms; what comes later belongs to another one

std::optional<unsigned> segment_code(std::string_view key) {
  if (key.size() != 2) return std::nullopt;
  unsigned code = 0;
  for (const char c : key) {
    if (c >= '0' && c <= '9')
      code = code * 16 + static_cast<unsigned>(c - '0');
    else if (c >= 'A' && c <= 'F')
      code = code * 16 + static_cast<unsigned>(c - 'A') + 10;
    else
      return std::nullopt;
  }
  return code < 0x80 ? std::optional(code) : std::nullopt;
}

bool is_display_character(std::string_view text) {
  return text.size() == 1 && std::string_view("0123456789 L-").find(text.front()) != std::string_view::npos;
}

class LcdSegment14Decoder final : public Decoder {
 public:
  explicit LcdSegment14Decoder(const MeterDefinition& definition)
      : counts_of_display_(whole_option_or(definition.decoder, "counts", 0)),
        symbols_(table_or_empty(definition.decoder, "symbols"), byte_number) {
    for (const auto& [key, character] : table_or_empty(definition.decoder, "digits"))
      digits_[segment_code(key).value_or(0)] = character.front();
  }

  void feed(std::string_view bytes, Instant at, std::vector<Reading>& out) override {
    if (!frame_.empty() && seconds_between(last_, at.monotonic) > torn_after_s) drop_torn();
    last_ = at.monotonic;
    for (const char c : bytes) {
      const auto number = static_cast<std::size_t>(static_cast<unsigned char>(c) >> 4);
      if (number != frame_.size() + 1) {
        if (!frame_.empty()) drop_torn();
        if (number != 1) {
          ++counts_.skipped_bytes;
          continue;
        }
      }
      frame_ += c;
      if (frame_.size() < frame_size) continue;
      finish(at, out);
      frame_.clear();
    }
  }

  void reset() override {
    counts_.skipped_bytes += frame_.size();
    frame_.clear();
  }

 private:
  void drop_torn() {
    ++counts_.rejected["torn frame"];
    counts_.skipped_bytes += frame_.size();
    frame_.clear();
  }

  void finish(Instant at, std::vector<Reading>& out) {
    Reading reading;
    if (const char* reason = read(reading)) {
      ++counts_.rejected[reason];
      counts_.skipped_bytes += frame_.size();
      return;
    }
    reading.at = at;
    reading.raw = frame_;
    ++counts_.accepted;
    out.push_back(std::move(reading));
  }

  unsigned low(std::size_t number) const { return static_cast<unsigned char>(frame_[number - 1]) & 0x0FU; }

  /// Fills the reading, or says why the display makes no sense.
  const char* read(Reading& reading) const {
    Symbols symbols;
    std::array<char, 4> shown{};
    for (std::size_t number = 1; number <= frame_size; ++number) {
      unsigned bits = low(number);
      if (number >= 2 && number <= 9) {
        if (number % 2 == 1) continue;
        const char character = digits_[(bits & 7U) << 4 | low(number + 1)];
        if (character == 0) return "unknown digit pattern";
        shown[number / 2 - 1] = character;
        bits &= 8U;
      }
      if (!symbols_.add(static_cast<int>(number), bits, symbols)) return "symbol that the definition does not list";
    }
    const auto unit = unit_of(symbols);
    if (!unit) return "no unit or two units or two prefixes";
    const auto quantity = quantity_of(unit->dimension, mode_of(symbols));
    if (!quantity) return "unit and function contradict each other";
    const auto decimals = decimals_of(symbols);
    if (!decimals) return "more than one decimal point";
    reading.quantity = *quantity;
    reading.flags = flags_of(symbols);
    return value_of(shown, *decimals, symbols.has(Symbol::minus), *unit, reading);
  }

  /// Digits behind the point; 0 without a point; nothing with two points.
  static std::optional<int> decimals_of(const Symbols& symbols) {
    int points = 0;
    int decimals = 0;
    for (const auto& [symbol, behind] :
         {std::pair{Symbol::point_before_2, 3}, {Symbol::point_before_3, 2}, {Symbol::point_before_4, 1}})
      if (symbols.has(symbol)) {
        ++points;
        decimals = behind;
      }
    return points > 1 ? std::nullopt : std::optional(decimals);
  }

  const char* value_of(const std::array<char, 4>& shown, int decimals, bool minus, Unit unit, Reading& reading) const {
    const auto is = [&](char wanted) { return std::count(shown.begin(), shown.end(), wanted); };
    if (is('-') > 0) return "dashes in place of digits";
    if (is('L') > 0) {
      if (is('L') > 1 || is(' ') + is('0') != 3) return "digits around the over-range sign";
      reading.state = ReadingState::over_range;
      if (decimals == 0) return nullptr;  // without the point the display does not tell the range
      reading.resolution = in_si({1, -decimals, false}, unit).step;
      if (counts_of_display_ > 0 && !reading.flags.autorange)
        reading.beyond = in_si({static_cast<std::uint64_t>(counts_of_display_), -decimals, false}, unit).value;
      return nullptr;
    }
    Scaled number{0, -decimals, minus};
    bool begun = false;
    for (std::size_t i = 0; i < shown.size(); ++i) {
      const bool behind_the_point = static_cast<int>(shown.size() - i) <= decimals;
      if (shown[i] == ' ' && (begun || behind_the_point)) return "blank inside the digits";
      if (shown[i] == ' ') continue;
      begun = true;
      number.digits = number.digits * 10 + static_cast<std::uint64_t>(shown[i] - '0');
    }
    if (!begun) return "no digits";
    const InSi si = in_si(number, unit);
    reading.value = si.value;
    reading.resolution = si.step;
    return nullptr;
  }

  int counts_of_display_;
  BitTable symbols_;
  std::array<char, 128> digits_{};  // 0 = no such pattern
  std::string frame_;
  Monotonic last_{};
};

bool is_symbol_bit(std::string_view key) {
  const auto name = bit_named(key);
  if (!name || name->bit > 3) return false;
  const int number = byte_number(name->byte);
  const bool digit_byte = number >= 2 && number <= 9;
  return number >= 1 && number <= 14 && (!digit_byte || (number % 2 == 0 && name->bit == 3));
}

}  // namespace

DecoderKind lcd_segment_14_kind() {
  DecoderKind kind;
  kind.name = "lcd-segment-14";
  kind.options = {{"counts", false, "a whole number from 1 to 999999", is_count}};
  kind.tables = {{"digits",
                  true,
                  "a segment code from \"00\" to \"7F\" in capitals",
                  [](std::string_view key) { return segment_code(key).has_value(); },
                  "one of 0 to 9, \" \", \"L\", \"-\"",
                  is_display_character,
                  {}},
                 {"symbols", true, "\"BYTE.BIT\" with a bit that holds no digit segment", is_symbol_bit,
                  "a symbol word", is_symbol_word, symbol_words()}};
  kind.make = [](const MeterDefinition& definition) -> std::unique_ptr<Decoder> {
    return std::make_unique<LcdSegment14Decoder>(definition);
  };
  return kind;
}

}  // namespace switchwright
