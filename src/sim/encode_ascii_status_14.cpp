// 14-byte ASCII status frame:
//   byte 0 "+" or "-"; 1-4 digits, "?0:?" for over-range; 5 a blank; 6 place of the point; 7-10 bits; 11 bar
//   graph; 12 CR; 13 LF
// The codes of byte 6 and the bits are those of the definition's tables "points" and "symbols".
#include <cstdlib>

#include "sim/encoder.hpp"
#include "sim/marks.hpp"

namespace switchwright::sim {

namespace {

class AsciiStatus14 final : public Encoder {
 public:
  explicit AsciiStatus14(const MeterDefinition& definition)
      : points_(table_of(definition, "points")), marks_(table_of(definition, "symbols")) {}

  std::string shown(const Display& display) override {
    if (display.state == ReadingState::not_a_number) return {};
    const bool over = display.state == ReadingState::over_range;
    std::string digits = std::to_string(std::llabs(display.counts));
    if (digits.size() > 4) return {};
    digits.insert(0, 4 - digits.size(), '0');
    const std::string decimals = std::to_string(notation_of(display).decimals);
    char point = 0;
    for (const auto& [code, behind] : points_)
      if (behind == decimals && point == 0) point = code.front();
    if (point == 0) return {};
    std::string frame(14, '\0');
    frame[0] = !over && display.counts < 0 ? '-' : '+';
    frame.replace(1, 4, over ? std::string_view{"?0:?"} : std::string_view{digits});
    frame[5] = ' ';
    frame[6] = point;
    frame.replace(12, 2, "\r\n");
    marks_.light(marks_of(display), [&](const std::string& byte, unsigned bit) {
      const unsigned long at = std::strtoul(byte.c_str(), nullptr, 10);
      if (at >= 7 && at <= 10) frame[at] = static_cast<char>(static_cast<unsigned char>(frame[at]) | 1U << bit);
    });
    return frame;
  }

 private:
  std::map<std::string, std::string> points_;
  MarkTable marks_;
};

}  // namespace

std::unique_ptr<Encoder> ascii_status_14_encoder(const MeterDefinition& definition) {
  return std::make_unique<AsciiStatus14>(definition);
}

}  // namespace switchwright::sim
