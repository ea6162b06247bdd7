// 11-byte ASCII nibble frame, 4000 counts, sent once or twice per conversion:
//   range d3 d2 d1 d0 function status option1 option2 CR LF
// What the codes and bits mean is in the definition; see nibble_frame.hpp.
#include "meter/decode/nibble_frame.hpp"

namespace switchwright {

DecoderKind ascii_nibble_11_kind() {
  DecoderKind kind = nibble_kind("ascii-nibble-11");
  kind.make = [](const MeterDefinition& definition) { return make_nibble_decoder(definition, {4, 2}); };
  return kind;
}

}  // namespace switchwright
