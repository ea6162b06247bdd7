// 16-character framed text:
//   STX "4" display unit unit polarity decimals d7 d6 d5 d4 d3 d2 d1 d0 CR
// Units are those of the definition's table "units". How such a meter sends an overload is not known; the
// simulated one sends characters that are no digits, so that the tool meets a frame it cannot read and has to
// say so.
#include <algorithm>

#include "sim/encoder.hpp"
#include "sim/marks.hpp"
#include "sim/unit_code.hpp"

namespace switchwright::sim {

namespace {

constexpr char start_of_text = 0x02;
constexpr std::size_t digit_count = 8;

class FramedText16 final : public Encoder {
 public:
  explicit FramedText16(const MeterDefinition& definition) : units_(table_of(definition, "units")) {
    const auto option = definition.decoder.options.find("display");
    if (option != definition.decoder.options.end()) display_number_ = option->second;
  }

  std::string shown(const Display& display) override {
    const auto unit = unit_code(units_, display);
    if (display.state == ReadingState::not_a_number || !unit) return {};
    const bool over = display.state == ReadingState::over_range;
    std::string digits = over ? std::string(digit_count, '?') : digits_in(display, unit->exponent);
    std::erase(digits, '.');
    if (digits.size() > digit_count) return {};
    digits.insert(0, digit_count - digits.size(), '0');
    return start_of_text + std::string{"4"} + display_number_ + unit->code + (!over && display.counts < 0 ? "1" : "0") +
           std::to_string(std::min(decimals_in(display, unit->exponent), 3)) + digits + "\r";
  }

 private:
  std::map<std::string, std::string> units_;
  std::string display_number_ = "1";
};

}  // namespace

std::unique_ptr<Encoder> framed_text_16_encoder(const MeterDefinition& definition) {
  return std::make_unique<FramedText16>(definition);
}

}  // namespace switchwright::sim
