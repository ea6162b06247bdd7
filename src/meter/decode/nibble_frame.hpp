// What the 11-byte and the 14-byte ASCII nibble frames have in common: a range code, digits, a function code,
// status and option nibbles, each one byte 0x30..0x3F, then CR LF.
//
//   [decoder.functions]  function code = voltage | current | resistance | continuity | diode | frequency |
//   ... [decoder.ranges]     function code and range code = "FULL SCALE UNIT" ("31" = "2.2000 kohm")
//   [decoder.symbols]    "status.3" or "option1.0" = symbol word
//
// The decimals of the full scale are the decimals of the reading: they give the resolution. The line has
// seven bits and odd parity. Where it is opened with eight bits the parity bit arrives as bit 7 (LF is then
// 0x8A): it is checked and masked. A damaged byte arrives as NUL and is never part of a frame.
#pragma once

#include <memory>
#include <string>
#include <vector>

#include "meter/decode/decoder_kind.hpp"

namespace switchwright {

struct NibbleLayout {
  std::size_t digits = 5;        ///< count of digit bytes
  std::size_t option_bytes = 4;  ///< bytes after status
  /// range, digits, function, status, options
  std::size_t payload() const { return 1 + digits + 2 + option_bytes; }
  std::size_t frame() const { return payload() + 2; }
};

std::unique_ptr<Decoder> make_nibble_decoder(const MeterDefinition& definition, NibbleLayout layout);
/// The kind with its tables; `make` is left to the caller.
DecoderKind nibble_kind(std::string name);

}  // namespace switchwright
