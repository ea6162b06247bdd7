// 14-byte ASCII nibble frame, 22000 counts:
//   range d4 d3 d2 d1 d0 function status option1 option2 option3 option4 CR LF
// What the codes and bits mean is in the definition; see nibble_frame.hpp.
#include "meter/decode/nibble_frame.hpp"

namespace switchwright {

DecoderKind ascii_nibble_14_kind() {
  DecoderKind kind = nibble_kind("ascii-nibble-14");
  kind.make = [](const MeterDefinition& definition) { return make_nibble_decoder(definition, {5, 4}); };
  return kind;
}

}  // namespace switchwright
