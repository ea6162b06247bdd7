// 16-character framed text:
//   STX "4" display unit unit polarity decimals d7 d6 d5 d4 d3 d2 d1 d0 CR
//   display "1" or "2"; polarity "0" plus, "1" minus; decimals "0".."3" counted from the right
//
//   display = "1"        whose frames are taken; a second display shows another quantity (default 1)
//   [decoder.units]      two characters = "UNIT" or "UNIT ac|dc|diode|continuity"
#include <algorithm>
#include <map>

#include "meter/decode/decoder_kind.hpp"
#include "meter/decode/scaled.hpp"

namespace switchwright {

namespace {

constexpr std::size_t frame_size = 16;
constexpr char start_of_text = 0x02;

class FramedText16Decoder final : public Decoder {
 public:
  explicit FramedText16Decoder(const MeterDefinition& definition)
      : display_(option_or(definition.decoder, "display", "1").front()) {
    for (const auto& [code, text] : table_or_empty(definition.decoder, "units"))
      units_.emplace(code, unit_in_mode(text).value_or(UnitInMode{}));
  }

  void feed(std::string_view bytes, Instant at, std::vector<Reading>& out) override {
    for (const char c : bytes) {
      if (frame_.empty() && c != start_of_text) {
        ++counts_.skipped_bytes;
        continue;
      }
      if (!frame_.empty() && c == start_of_text) drop("torn frame");
      frame_ += c;
      if (frame_.size() < frame_size && c != '\r') continue;
      if (frame_.size() < frame_size)
        drop("torn frame");
      else
        finish(at, out);
    }
  }

  void reset() override {
    counts_.skipped_bytes += frame_.size();
    frame_.clear();
  }

 private:
  void drop(const char* reason) {
    ++counts_.rejected[reason];
    reset();
  }

  void finish(Instant at, std::vector<Reading>& out) {
    Reading reading;
    if (const char* reason = read(reading)) return drop(reason);
    reading.at = at;
    reading.raw = std::move(frame_);
    frame_.clear();
    ++counts_.accepted;
    out.push_back(std::move(reading));
  }

  const char* read(Reading& reading) const {
    if (frame_.back() != '\r' || frame_[1] != '4') return "torn frame";
    if (frame_[2] != '1' && frame_[2] != '2') return "unknown display";
    if (frame_[2] != display_) return "frame of the other display";
    const auto unit = units_.find(frame_.substr(3, 2));
    if (unit == units_.end()) return "unit that the definition does not list";
    if (frame_[5] != '0' && frame_[5] != '1') return "unknown polarity";
    if (frame_[6] < '0' || frame_[6] > '3') return "unknown place of the point";
    Scaled number{0, '0' - frame_[6], frame_[5] == '1'};
    for (const char c : frame_.substr(7, 8)) {
      if (c < '0' || c > '9') return "unknown digit";
      number.digits = number.digits * 10 + static_cast<std::uint64_t>(c - '0');
    }
    const InSi si = in_si(number, unit->second.unit);
    reading.quantity = *quantity_of(unit->second.unit.dimension, unit->second.mode);
    reading.value = si.value;
    reading.resolution = si.step;
    return nullptr;
  }

  char display_;
  std::map<std::string, UnitInMode> units_;
  std::string frame_;
};

bool is_unit_with_quantity(std::string_view text) {
  const auto unit = unit_in_mode(text);
  return unit && quantity_of(unit->unit.dimension, unit->mode);
}

}  // namespace

DecoderKind framed_text_16_kind() {
  DecoderKind kind;
  kind.name = "framed-text-16";
  kind.options = {
      {"display", false, "\"1\" or \"2\"", [](std::string_view text) { return text == "1" || text == "2"; }}};
  kind.tables = {{"units",
                  true,
                  "two characters",
                  [](std::string_view key) { return key.size() == 2; },
                  "a unit such as \"mV dc\", \"kohm\" or \"V diode\"",
                  is_unit_with_quantity,
                  {}}};
  kind.make = [](const MeterDefinition& definition) -> std::unique_ptr<Decoder> {
    return std::make_unique<FramedText16Decoder>(definition);
  };
  return kind;
}

}  // namespace switchwright
