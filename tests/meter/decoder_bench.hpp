// Feeds a decoder made from a shipped definition and says what came out, one line per reading.
#pragma once

#include <fmt/format.h>

#include <string>
#include <vector>

#include "hex.hpp"
#include "switchwright/meter/decoder.hpp"

namespace switchwright::test {

inline SearchPath shipped() { return SearchPath{{std::string(SOURCE_DIR) + "/meters"}}; }
inline MeterDefinition definition_of(const std::string& id) { return load_meter_definition(id, shipped()); }

inline std::string state_text(ReadingState state) {
  switch (state) {
    case ReadingState::finite: return "finite";
    case ReadingState::over_range: return "over-range";
    case ReadingState::not_a_number: return "not-a-number";
  }
  return "?";
}

inline std::string flags_text(const ReadingFlags& flags) {
  std::string text;
  if (flags.autorange) text += " auto";
  if (flags.hold) text += " hold";
  if (flags.relative) text += " relative";
  if (flags.low_battery) text += " low-battery";
  if (flags.min_max) text += " min-max";
  return text;
}

/// "voltage-dc -1.234 step 0.001 auto", "resistance over-range step 10000 beyond 4e+07".
inline std::string text_of(const Reading& reading) {
  std::string text(name_of(reading.quantity));
  text += reading.finite() ? fmt::format(" {:.10g}", reading.value) : fmt::format(" {}", state_text(reading.state));
  if (reading.resolution != 0.0) text += fmt::format(" step {:.6g}", reading.resolution);
  if (reading.beyond) text += fmt::format(" beyond {:.6g}", *reading.beyond);
  return text + flags_text(reading.flags);
}

inline std::string text_of(const std::vector<Reading>& readings) {
  std::string text;
  for (const Reading& reading : readings) text += fmt::format("{}{}", text.empty() ? "" : "; ", text_of(reading));
  return text;
}

inline std::vector<Reading> decode(Decoder& decoder, const std::string& bytes) {
  std::vector<Reading> readings;
  decoder.feed(bytes, {}, readings);
  return readings;
}

inline std::vector<Reading> decode_byte_by_byte(Decoder& decoder, const std::string& bytes) {
  std::vector<Reading> readings;
  for (const char c : bytes) decoder.feed(std::string(1, c), {}, readings);
  return readings;
}

}  // namespace switchwright::test
