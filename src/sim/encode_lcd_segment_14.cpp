// 14-byte LCD segment frame: byte i (1..14) carries its own number in the high nibble and four segments in
// the low.
//
//   byte   bit 3   bit 2   bit 1   bit 0
//     1    AC      DC      AUTO    RS232
//     2    minus   e       f       a       digit 1, its other half in byte 3: d c g b
//     4    point   e       f       a       digit 2 (5), digit 3 (6, 7) and digit 4 (8, 9) alike; the point
//     stands
//                                          before the digit
//    10    micro   n       k       diode
//    11    m       %       M       beeper
//    12    F       ohm     rel     hold
//    13    A       V       Hz      low battery
//    14    differs from meter to meter: table "last_byte_symbols" of the definition
#include <array>
#include <cmath>
#include <cstdlib>

#include "sim/encoder.hpp"

namespace switchwright::sim {

namespace {

/// Segments e f a d c g b of the digits 0 to 9.
constexpr std::array<unsigned, 10> digit_segments{0x7D, 0x05, 0x5B, 0x1F, 0x27, 0x3E, 0x7E, 0x15, 0x7F, 0x3F};
constexpr unsigned blank = 0x00;
constexpr unsigned letter_l = 0x68;
constexpr unsigned point = 8;
constexpr unsigned minus = 8;

class LcdSegment14 final : public Encoder {
 public:
  explicit LcdSegment14(const MeterDefinition& definition) {
    const auto table = definition.decoder.tables.find("last_byte_symbols");
    if (table == definition.decoder.tables.end()) return;
    for (const auto& [bit, symbol] : table->second)
      if (symbol == "celsius" && bit.size() == 4 && bit.starts_with("bit"))
        celsius_ = 1U << static_cast<unsigned>(bit[3] - '0');
  }

  std::string shown(const Display& display) override {
    if (display.state == ReadingState::not_a_number) return {};
    segments_.fill(0);
    write_unit(display);
    write_digits(display);
    std::string frame;
    for (unsigned i = 0; i < segments_.size(); ++i)
      frame += static_cast<char>((i + 1) << 4 | (segments_[i] & 0xF));
    return frame;
  }

 private:
  unsigned& byte(unsigned number) { return segments_[number - 1]; }

  void write_unit(const Display& display) {
    const int exponent = notation_of(display).exponent;
    byte(1) |= 1;
    if (display.autorange) byte(1) |= 2;
    if (exponent == -6) byte(10) |= 8;
    if (exponent == -9) byte(10) |= 4;
    if (exponent == 3) byte(10) |= 2;
    if (exponent == -3) byte(11) |= 8;
    if (exponent == 6) byte(11) |= 2;
    switch (display.quantity) {
      case Quantity::continuity:
        byte(11) |= 1;
        byte(12) |= 4;
        break;
      case Quantity::resistance:
      case Quantity::resistance_4_wire:
        byte(12) |= 4;
        break;
      case Quantity::diode:
        byte(10) |= 1;
        byte(13) |= 4;
        break;
      case Quantity::voltage_dc:
      case Quantity::voltage_ac:
        byte(13) |= 4;
        break;
      case Quantity::current_dc:
      case Quantity::current_ac:
        byte(13) |= 8;
        break;
      case Quantity::frequency:
        byte(13) |= 2;
        break;
      case Quantity::duty:
        byte(11) |= 4;
        break;
      case Quantity::capacitance:
        byte(12) |= 8;
        break;
      case Quantity::temperature:
        byte(14) |= celsius_;
        break;
    }
    if (display.quantity == Quantity::voltage_ac || display.quantity == Quantity::current_ac) byte(1) |= 8;
    if (display.quantity == Quantity::voltage_dc || display.quantity == Quantity::current_dc) byte(1) |= 4;
  }

  void write_digits(const Display& display) {
    const auto magnitude = static_cast<std::uint64_t>(std::llabs(display.counts));
    std::array<unsigned, 4> digits{};
    int decimals = notation_of(display).decimals;
    if (display.state == ReadingState::over_range || magnitude > 9999) {
      digits = {blank, digit_segments[0], letter_l, blank};  // " 0.L "
      decimals = 2;
    } else {
      std::uint64_t rest = magnitude;
      for (auto digit = digits.rbegin(); digit != digits.rend(); ++digit, rest /= 10)
        *digit = digit_segments[rest % 10];
      if (display.counts < 0) byte(2) |= minus;
    }
    for (unsigned i = 0; i < 4; ++i) {
      byte(2 + 2 * i) |= digits[i] >> 4;
      byte(3 + 2 * i) |= digits[i] & 0xF;
    }
    if (decimals >= 1 && decimals <= 3) byte(2 + 2 * static_cast<unsigned>(4 - decimals)) |= point;
  }

  std::array<unsigned, 14> segments_{};
  unsigned celsius_ = 0;
};

}  // namespace

std::unique_ptr<Encoder> lcd_segment_14_encoder(const MeterDefinition& definition) {
  return std::make_unique<LcdSegment14>(definition);
}

}  // namespace switchwright::sim
