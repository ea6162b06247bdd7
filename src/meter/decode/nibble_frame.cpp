#include "meter/decode/nibble_frame.hpp"

#include <algorithm>
#include <array>
#include <bit>
#include <optional>
#include <utility>

#include "meter/decode/symbols.hpp"
#include "switchwright/core/text.hpp"

namespace switchwright {

namespace {

const std::vector<std::string>& function_words() {
  static const std::vector<std::string> words{"voltage", "current",   "resistance",  "continuity",
                                              "diode",   "frequency", "capacitance", "temperature"};
  return words;
}

bool is_function_word(std::string_view word) {
  const auto& words = function_words();
  return std::find(words.begin(), words.end(), word) != words.end();
}

bool function_fits(std::string_view word, Dimension dimension) {
  if (word == "voltage" || word == "diode") return dimension == Dimension::volt;
  if (word == "current") return dimension == Dimension::ampere;
  if (word == "resistance" || word == "continuity") return dimension == Dimension::ohm;
  if (word == "frequency") return dimension == Dimension::hertz;
  if (word == "capacitance") return dimension == Dimension::farad;
  return dimension == Dimension::celsius || dimension == Dimension::fahrenheit;
}

bool is_nibble_character(char c) { return c >= 0x30 && c <= 0x3F; }

bool is_code(std::string_view key, std::size_t size) {
  return key.size() == size && std::all_of(key.begin(), key.end(), is_nibble_character);
}

struct FullScale {
  Scaled number;
  Unit unit;
};

std::optional<FullScale> full_scale(std::string_view text) {
  const auto number = take_number(text, NumberForm::plain);
  if (!number || number->minus || number->digits == 0 || text.empty() || text.front() != ' ') return std::nullopt;
  const auto unit = unit_named(text.substr(1));
  if (!unit) return std::nullopt;
  return FullScale{*number, *unit};
}

/// "status" 0, "option1" 1, ... as they follow the function byte; -1 for any other name.
int flag_byte(std::string_view name) {
  if (name == "status") return 0;
  if (name.size() == 7 && name.starts_with("option") && name[6] >= '1' && name[6] <= '4') return name[6] - '0';
  return -1;
}

bool is_flag_bit(std::string_view key) {
  const auto name = bit_named(key);
  return name && name->bit <= 3 && flag_byte(name->byte) >= 0;
}

constexpr std::size_t longest_line = 256;

class NibbleDecoder final : public Decoder {
 public:
  NibbleDecoder(const MeterDefinition& definition, NibbleLayout layout)
      : layout_(layout),
        parity_(definition.link.parity),
        symbols_(table_or_empty(definition.decoder, "symbols"), flag_byte) {
    for (const auto& [code, word] : table_or_empty(definition.decoder, "functions"))
      functions_[nibble(code[0])] = Function{word == "diode", word == "continuity", word == "frequency"};
    for (const auto& [code, text] : table_or_empty(definition.decoder, "ranges"))
      ranges_[nibble(code[0])][nibble(code[1])] = full_scale(text);
  }

  void feed(std::string_view bytes, Instant at, std::vector<Reading>& out) override {
    for (const char c : bytes) {
      line_ += c;
      if (masked(c) == '\n') {
        end_of_line(at, out);
        line_.clear();
      } else if (line_.size() > longest_line) {
        const std::size_t dropped = line_.size() - layout_.frame();
        counts_.skipped_bytes += dropped;
        line_.erase(0, dropped);
      }
    }
  }

  void reset() override {
    counts_.skipped_bytes += line_.size();
    line_.clear();
  }

 private:
  struct Function {
    bool diode = false;
    bool continuity = false;
    bool frequency = false;
  };

  static char masked(char c) { return static_cast<char>(static_cast<unsigned char>(c) & 0x7F); }
  static std::size_t nibble(char c) { return static_cast<unsigned char>(c) & 0x0FU; }

  void end_of_line(Instant at, std::vector<Reading>& out) {
    const std::size_t size = layout_.frame();
    if (line_.size() < size) return reject("torn frame", line_.size());
    const std::size_t ahead = line_.size() - size;
    if (ahead > 0 && is_nibble_character(masked(line_[ahead - 1])))
      return reject("frame of another length", line_.size());
    counts_.skipped_bytes += ahead;
    const std::string_view frame = std::string_view(line_).substr(ahead);
    Reading reading;
    if (const char* reason = read(frame, reading)) return reject(reason, size);
    reading.at = at;
    reading.raw = frame;
    ++counts_.accepted;
    out.push_back(std::move(reading));
  }

  void reject(const char* reason, std::size_t bytes) {
    ++counts_.rejected[reason];
    counts_.skipped_bytes += bytes;
  }

  /// The parity bit that came along as bit 7 is wrong, or there is a bit 7 where no parity was announced.
  bool parity_is_wrong(std::string_view frame) const {
    const auto eighth = [](char c) { return (static_cast<unsigned char>(c) & 0x80) != 0; };
    if (std::none_of(frame.begin(), frame.end(), eighth)) return false;  // the link took parity off
    if (parity_ == Parity::none) return true;
    const int wanted = parity_ == Parity::odd ? 1 : 0;
    return std::any_of(frame.begin(), frame.end(),
                       [wanted](char c) { return std::popcount(static_cast<unsigned char>(c)) % 2 != wanted; });
  }

  /// Fills the reading, or says why the frame makes no sense.
  const char* read(std::string_view frame, Reading& reading) const {
    if (parity_is_wrong(frame)) return "parity error";
    const auto at = [&](std::size_t i) { return masked(frame[i]); };
    if (at(frame.size() - 2) != '\r') return "no carriage return at the end";
    Scaled number;
    for (std::size_t i = 0; i < layout_.payload(); ++i)
      if (!is_nibble_character(at(i))) return "damaged byte";
    for (std::size_t i = 1; i <= layout_.digits; ++i) {
      if (at(i) > '9') return "unknown digit";
      number.digits = number.digits * 10 + static_cast<std::uint64_t>(at(i) - '0');
    }
    const std::size_t function_byte = 1 + layout_.digits;
    const auto& function = functions_[nibble(at(function_byte))];
    if (!function) return "function that the definition does not list";
    const auto& range = ranges_[nibble(at(function_byte))][nibble(at(0))];
    if (!range) return "range that the definition does not list";
    Symbols symbols;
    for (std::size_t i = 0; i <= layout_.option_bytes; ++i)
      if (!symbols_.add(static_cast<int>(i), static_cast<unsigned>(nibble(at(function_byte + 1 + i))), symbols))
        return "symbol that the definition does not list";
    return value_of(number, *function, *range, symbols, reading);
  }

  static const char* value_of(Scaled number, const Function& function, const FullScale& range, const Symbols& symbols,
                              Reading& reading) {
    if (function.frequency && !symbols.has(Symbol::judge)) return "duty in place of frequency";
    const Mode mode{symbols.has(Symbol::ac), symbols.has(Symbol::dc), function.diode, function.continuity};
    const auto quantity = quantity_of(range.unit.dimension, mode);
    if (!quantity) return "unit and function contradict each other";
    number.exponent = range.number.exponent;
    number.minus = symbols.has(Symbol::minus);
    const InSi si = in_si(number, range.unit);
    reading.quantity = *quantity;
    reading.flags = flags_of(symbols);
    reading.resolution = si.step;
    if (symbols.has(Symbol::not_a_number)) {
      reading.state = ReadingState::not_a_number;
    } else if (symbols.has(Symbol::over_range)) {
      reading.state = ReadingState::over_range;
      reading.beyond = in_si(range.number, range.unit).value;
    } else {  // a count a little beyond the full scale is real: chips overrun before they change the range
      reading.value = si.value;
    }
    return nullptr;
  }

  NibbleLayout layout_;
  Parity parity_;
  BitTable symbols_;
  std::array<std::optional<Function>, 16> functions_;
  std::array<std::array<std::optional<FullScale>, 16>, 16> ranges_;  // by function, then by range
  std::string line_;
};

std::vector<SettingProblem> cross_check(const DecoderSettings& settings) {
  std::vector<SettingProblem> problems;
  const auto& functions = table_or_empty(settings, "functions");
  for (const auto& [code, text] : table_or_empty(settings, "ranges")) {
    const auto function = functions.find(code.substr(0, 1));
    if (function == functions.end())
      problems.push_back(
          {"ranges", code,
           "expected a function code of [decoder.functions] first in the key, saw \"" + terminal_safe(code) + "\""});
    else if (!function_fits(function->second, full_scale(text)->unit.dimension))
      problems.push_back(
          {"ranges", code, "expected a unit that fits " + function->second + ", saw \"" + terminal_safe(text) + "\""});
  }
  return problems;
}

}  // namespace

std::unique_ptr<Decoder> make_nibble_decoder(const MeterDefinition& definition, NibbleLayout layout) {
  return std::make_unique<NibbleDecoder>(definition, layout);
}

DecoderKind nibble_kind(std::string name) {
  DecoderKind kind;
  kind.name = std::move(name);
  kind.tables = {
      {"functions", true, "one character from \"0\" to \"?\"", [](std::string_view key) { return is_code(key, 1); },
       "a function", is_function_word, function_words()},
      {"ranges",
       true,
       "a function code and a range code, each from \"0\" to \"?\"",
       [](std::string_view key) { return is_code(key, 2); },
       "a full scale such as \"2.2000 kohm\"",
       [](std::string_view text) { return full_scale(text).has_value(); },
       {}},
      {"symbols", true, "\"status.BIT\" or \"option1.BIT\" with BIT from 0 to 3", is_flag_bit, "a symbol word",
       is_symbol_word, symbol_words()}};
  kind.cross_check = cross_check;
  return kind;
}

}  // namespace switchwright
