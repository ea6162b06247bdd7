// 14-byte ASCII status frame: sign and digits as text, then bytes of bits, which may hold any value, CR and
// LF too. So a frame is not a line: it is fourteen bytes with the fixed bytes in their places.
//
//   byte 0 "+" or "-"; 1-4 digits, or "?0:?" for over-range; 5 a blank; 6 place of the point; 7-10 bits; 11
//   bar graph; 12 CR; 13 LF
//
//   counts = 6000         optional; with it an over-range in a fixed range tells its range
//   [decoder.points]      code in byte 6 ("0".."9") = digits behind the point
//   [decoder.symbols]     "BYTE.BIT" = symbol word, bytes 7 to 10
#include <algorithm>
#include <array>
#include <optional>

#include "meter/decode/decoder_kind.hpp"
#include "meter/decode/symbols.hpp"

namespace switchwright {

namespace {

constexpr std::size_t frame_size = 14;
constexpr std::string_view over_range_digits = "?0:?";

bool is_digit(char c) { return c >= '0' && c <= '9'; }

class AsciiStatus14Decoder final : public Decoder {
 public:
  explicit AsciiStatus14Decoder(const MeterDefinition& definition)
      : counts_of_display_(whole_option_or(definition.decoder, "counts", 0)),
        symbols_(table_or_empty(definition.decoder, "symbols"), byte_number) {
    for (const auto& [code, decimals] : table_or_empty(definition.decoder, "points"))
      decimals_[static_cast<std::size_t>(code[0] - '0')] = decimals[0] - '0';
  }

  void feed(std::string_view bytes, Instant at, std::vector<Reading>& out) override {
    buffer_ += bytes;
    std::size_t from = 0;
    while (buffer_.size() - from >= frame_size) {
      const std::string_view frame = std::string_view(buffer_).substr(from, frame_size);
      if (!is_frame(frame)) {
        ++from;
        ++counts_.skipped_bytes;
        in_garbage_ = true;
        continue;
      }
      if (in_garbage_) ++counts_.rejected["torn frame"];
      in_garbage_ = false;
      from += frame_size;
      Reading reading;
      if (const char* reason = read(frame, reading)) {
        ++counts_.rejected[reason];
        counts_.skipped_bytes += frame_size;
        continue;
      }
      reading.at = at;
      reading.raw = frame;
      ++counts_.accepted;
      out.push_back(std::move(reading));
    }
    buffer_.erase(0, from);
  }

  void reset() override {
    counts_.skipped_bytes += buffer_.size();
    buffer_.clear();
    in_garbage_ = false;
  }

 private:
  static bool is_frame(std::string_view frame) {
    const std::string_view digits = frame.substr(1, 4);
    return (frame[0] == '+' || frame[0] == '-') && frame[5] == ' ' && frame[12] == '\r' && frame[13] == '\n' &&
           (digits == over_range_digits || std::all_of(digits.begin(), digits.end(), is_digit));
  }

  const char* read(std::string_view frame, Reading& reading) const {
    const auto point = static_cast<unsigned char>(frame[6]);
    const unsigned code = is_digit(frame[6]) ? point - static_cast<unsigned>('0') : point;  // ASCII or bare
    if (code > 9 || !decimals_[code]) return "place of the point that the definition does not list";
    Symbols symbols;
    for (int index = 7; index <= 10; ++index)
      if (!symbols_.add(index, static_cast<unsigned char>(frame[static_cast<std::size_t>(index)]), symbols))
        return "symbol that the definition does not list";
    const auto unit = unit_of(symbols);
    if (!unit) return "no unit or two units or two prefixes";
    const auto quantity = quantity_of(unit->dimension, mode_of(symbols));
    if (!quantity) return "unit and function contradict each other";
    reading.quantity = *quantity;
    reading.flags = flags_of(symbols);
    Scaled number{0, -*decimals_[code], frame[0] == '-'};
    if (frame.substr(1, 4) == over_range_digits) {
      reading.state = ReadingState::over_range;
      reading.resolution = in_si(number, *unit).step;
      if (counts_of_display_ > 0 && !reading.flags.autorange) {
        number = {static_cast<std::uint64_t>(counts_of_display_), number.exponent, false};
        reading.beyond = in_si(number, *unit).value;
      }
      return nullptr;
    }
    for (const char c : frame.substr(1, 4)) number.digits = number.digits * 10 + static_cast<std::uint64_t>(c - '0');
    const InSi si = in_si(number, *unit);
    reading.value = si.value;
    reading.resolution = si.step;
    return nullptr;
  }

  int counts_of_display_;
  BitTable symbols_;
  std::array<std::optional<int>, 10> decimals_;
  std::string buffer_;
  bool in_garbage_ = false;
};

bool is_symbol_bit(std::string_view key) {
  const auto name = bit_named(key);
  if (!name) return false;
  const int number = byte_number(name->byte);
  return number >= 7 && number <= 10;
}

}  // namespace

DecoderKind ascii_status_14_kind() {
  DecoderKind kind;
  kind.name = "ascii-status-14";
  kind.options = {{"counts", false, "a whole number from 1 to 999999", is_count}};
  kind.tables = {{"points",
                  true,
                  "a code from \"0\" to \"9\"",
                  [](std::string_view key) { return key.size() == 1 && is_digit(key[0]); },
                  "a count of digits from 0 to 3",
                  [](std::string_view value) { return value.size() == 1 && value[0] >= '0' && value[0] <= '3'; },
                  {}},
                 {"symbols", true, "\"BYTE.BIT\" with BYTE from 7 to 10", is_symbol_bit, "a symbol word",
                  is_symbol_word, symbol_words()}};
  kind.make = [](const MeterDefinition& definition) -> std::unique_ptr<Decoder> {
    return std::make_unique<AsciiStatus14Decoder>(definition);
  };
  return kind;
}

}  // namespace switchwright
