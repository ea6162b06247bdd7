// 14-byte LCD segment frame: the meter sends the state of its display segments and nothing else.
//
//   byte i (1..14) = i in the high nibble, four segments in the low nibble
//   bytes 2 3, 4 5, 6 7, 8 9: digit 1..4 as e f a d c g b; bit 3 of the first of the two is a mark (minus,
//   point) bytes 1, 10..14: marks
//
// Segment codes and marks are those of the definition's tables "digits" and "symbols".
#include <array>
#include <cstdlib>

#include "sim/encoder.hpp"
#include "sim/marks.hpp"

namespace switchwright::sim {

namespace {

constexpr std::uint64_t most_counts = 9999;

class LcdSegment14 final : public Encoder {
 public:
  explicit LcdSegment14(const MeterDefinition& definition) : marks_(table_of(definition, "symbols")) {
    for (const auto& [code, character] : table_of(definition, "digits"))
      if (character.size() == 1)
        segments_[character.front()] = static_cast<unsigned>(std::strtoul(code.c_str(), nullptr, 16));
    // The mark that says "sending" is always lit while the meter sends.
    const auto& symbols = table_of(definition, "symbols");
    const auto sending = symbols.find("1.0");
    sending_ = sending != symbols.end() && sending->second == "ignored";
  }

  std::string shown(const Display& display) override {
    if (display.state == ReadingState::not_a_number) return {};  // a blank display
    std::array<unsigned, 15> low{};                              // by byte number
    Display display_shown = display;
    const auto magnitude = static_cast<std::uint64_t>(std::llabs(display.counts));
    if (magnitude > most_counts) display_shown.state = ReadingState::over_range;
    const int decimals = notation_of(display_shown).decimals;
    auto marks = marks_of(display_shown);
    if (decimals >= 1 && decimals <= 3) marks.push_back("point-before-" + std::to_string(5 - decimals));
    marks_.light(marks, [&](const std::string& byte, unsigned bit) {
      const unsigned long number = std::strtoul(byte.c_str(), nullptr, 10);
      if (number >= 1 && number <= 14) low[number] |= 1U << bit;
    });
    if (sending_) low[1] |= 1U;
    const std::string digits =
        display_shown.state == ReadingState::over_range ? overload(decimals) : four_digits(magnitude);
    for (unsigned i = 0; i < 4; ++i) {
      const unsigned code = segments_[digits[i]];
      low[2 + 2 * i] |= code >> 4;
      low[3 + 2 * i] |= code & 0xF;
    }
    std::string frame;
    for (unsigned number = 1; number <= 14; ++number) frame += static_cast<char>(number << 4 | low[number]);
    return frame;
  }

 private:
  static std::string four_digits(std::uint64_t counts) {
    const std::string digits = std::to_string(counts);
    return std::string(4 - digits.size(), '0') + digits;
  }

  /// The L stands behind the point of the range: " 0.L ".
  static std::string overload(int decimals) {
    switch (decimals) {
      case 3: return "0L  ";
      case 1: return "  0L";
      default: return " 0L ";
    }
  }

  MarkTable marks_;
  std::map<char, unsigned> segments_;
  bool sending_ = false;
};

}  // namespace

std::unique_ptr<Encoder> lcd_segment_14_encoder(const MeterDefinition& definition) {
  return std::make_unique<LcdSegment14>(definition);
}

}  // namespace switchwright::sim
