// How a simulated meter talks: readings in, bytes out. The reverse of a decoder, written from the same frame
// tables; chip-specific codes come from the meter definition.
#pragma once

#include <memory>
#include <optional>
#include <string>
#include <string_view>

#include "sim/display.hpp"
#include "switchwright/meter/definition.hpp"

namespace switchwright::sim {

/// Thread rule: one owner, one thread.
class Encoder {
 public:
  virtual ~Encoder() = default;
  /// A new reading stands on the display; returns the bytes to send now (none: the meter speaks when asked,
  /// or has no way to say this).
  virtual std::string shown(const Display& display) = 0;
  /// Bytes from the tool; returns the answer to send now.
  virtual std::string asked(std::string_view /*bytes*/) { return {}; }
  /// Another client took the line: what the last one left unfinished is forgotten.
  virtual void reset() {}
  /// The function the meter was told to measure; nothing: its dial decides.
  virtual std::optional<Quantity> function() const { return std::nullopt; }
};

/// The encoder for the definition's decoder kind. @throws Error(usage) when there is none.
std::unique_ptr<Encoder> make_encoder(const MeterDefinition& definition);

std::unique_ptr<Encoder> ascii_status_14_encoder(const MeterDefinition& definition);
std::unique_ptr<Encoder> framed_text_16_encoder(const MeterDefinition& definition);
std::unique_ptr<Encoder> lcd_segment_14_encoder(const MeterDefinition& definition);
std::unique_ptr<Encoder> ascii_nibble_11_encoder(const MeterDefinition& definition);
std::unique_ptr<Encoder> ascii_nibble_14_encoder(const MeterDefinition& definition);
std::unique_ptr<Encoder> line_pattern_encoder(const MeterDefinition& definition);
std::unique_ptr<Encoder> scpi_responder(const MeterDefinition& definition);

}  // namespace switchwright::sim
