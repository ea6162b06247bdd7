// ASCII nibble frames, 14 bytes (five digits, four option bytes) and 11 bytes (four digits, two option
// bytes):
//
//   range  digits  function  status  options  CR  LF      every byte but the last two is 0x30 | nibble
//
// Codes are those of the definition's tables "functions", "ranges" and "symbols". A serial port takes the
// parity bit off, a pseudo-terminal has none: bytes are sent without it.
#include <array>
#include <cmath>
#include <cstdlib>
#include <optional>

#include "sim/encoder.hpp"
#include "sim/marks.hpp"

namespace switchwright::sim {

namespace {

/// One entry of the table "ranges": "2.2000 kohm" under function 3, range 1.
struct Range {
  char function = '0';
  char range = '0';
  std::string function_word;
  double full_scale = 0.0;  ///< SI unit
  double resolution = 0.0;  ///< SI unit
};

double prefix_factor(std::string_view unit) {
  if (unit.size() < 2 || unit == "degC" || unit == "degF") return 1.0;
  switch (unit.front()) {
    case 'n': return 1e-9;
    case 'u': return 1e-6;
    case 'm': return 1e-3;
    case 'k': return 1e3;
    case 'M': return 1e6;
    case 'G': return 1e9;
    default: return 1.0;
  }
}

std::optional<Range> range_of(const std::string& code, const std::string& text, const std::string& function_word) {
  const auto blank = text.find(' ');
  if (code.size() != 2 || blank == std::string::npos) return std::nullopt;
  const std::string number = text.substr(0, blank);
  const auto point = number.find('.');
  const auto decimals = point == std::string::npos ? 0 : static_cast<int>(number.size() - point) - 1;
  const double factor = prefix_factor(std::string_view{text}.substr(blank + 1));
  return Range{code[0], code[1], function_word, std::strtod(number.c_str(), nullptr) * factor,
               std::pow(10.0, -decimals) * factor};
}

std::string function_word(Quantity quantity) {
  switch (quantity) {
    case Quantity::resistance:
    case Quantity::resistance_4_wire: return "resistance";
    case Quantity::continuity: return "continuity";
    case Quantity::diode: return "diode";
    case Quantity::voltage_dc:
    case Quantity::voltage_ac: return "voltage";
    case Quantity::current_dc:
    case Quantity::current_ac: return "current";
    case Quantity::capacitance: return "capacitance";
    case Quantity::temperature: return "temperature";
    case Quantity::frequency:
    case Quantity::duty: break;
  }
  return "frequency";
}

class AsciiNibble final : public Encoder {
 public:
  AsciiNibble(const MeterDefinition& definition, std::size_t digits, std::size_t option_bytes)
      : digits_(digits), option_bytes_(option_bytes), marks_(table_of(definition, "symbols")) {
    const auto& functions = table_of(definition, "functions");
    for (const auto& [code, text] : table_of(definition, "ranges"))
      if (const auto function = functions.find(code.substr(0, 1)); function != functions.end())
        if (const auto range = range_of(code, text, function->second)) ranges_.push_back(*range);
  }

  std::string shown(const Display& display) override {
    const Range* range = range_for(display);
    if (display.state == ReadingState::not_a_number || range == nullptr) return {};
    const bool over = display.state == ReadingState::over_range;
    const std::int64_t counts = over ? std::llround(range->full_scale / range->resolution)
                                     : std::llround(std::abs(display.value()) / range->resolution);
    std::string number = std::to_string(counts);
    if (number.size() > digits_) return {};
    number.insert(0, digits_ - number.size(), '0');
    std::array<unsigned, 5> flags{};  // status, options 1 to 4
    marks_.light(marks_of(display), [&](const std::string& byte, unsigned bit) {
      const std::size_t at = byte == "status" ? 0 : static_cast<std::size_t>(byte.back() - '0');
      if (at <= option_bytes_) flags[at] |= 1U << bit;
    });
    std::string frame = range->range + number + range->function;
    for (std::size_t i = 0; i <= option_bytes_; ++i) frame += static_cast<char>(0x30U | flags[i]);
    return frame + "\r\n";
  }

 private:
  /// The entry with the display's resolution, or the one nearest to it.
  const Range* range_for(const Display& display) const {
    const Range* best = nullptr;
    double best_distance = 0.0;
    for (const Range& range : ranges_) {
      if (range.function_word != function_word(display.quantity)) continue;
      const double distance = std::abs(std::log10(range.resolution / display.resolution)) +
                              std::abs(std::log10(range.full_scale / display.full_scale));
      if (best != nullptr && distance >= best_distance) continue;
      best = &range;
      best_distance = distance;
    }
    return best;
  }

  std::size_t digits_;
  std::size_t option_bytes_;
  MarkTable marks_;
  std::vector<Range> ranges_;
};

}  // namespace

std::unique_ptr<Encoder> ascii_nibble_14_encoder(const MeterDefinition& definition) {
  return std::make_unique<AsciiNibble>(definition, 5, 4);
}

std::unique_ptr<Encoder> ascii_nibble_11_encoder(const MeterDefinition& definition) {
  return std::make_unique<AsciiNibble>(definition, 4, 2);
}

}  // namespace switchwright::sim
