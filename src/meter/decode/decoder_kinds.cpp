// The list of decoders: one line each.
#include <algorithm>

#include "meter/decode/decoder_kind.hpp"

// Add a decoder here, and nowhere else.
#define SWITCHWRIGHT_DECODERS(DECODER) \
  DECODER(ascii_nibble_11)             \
  DECODER(ascii_nibble_14)             \
  DECODER(ascii_status_14)             \
  DECODER(framed_text_16)              \
  DECODER(lcd_segment_14)              \
  DECODER(line_pattern)                \
  DECODER(scpi)

namespace switchwright {

#define SWITCHWRIGHT_DECLARE(name) DecoderKind name##_kind();
SWITCHWRIGHT_DECODERS(SWITCHWRIGHT_DECLARE)

const std::vector<DecoderKind>& all_decoder_kinds() {
#define SWITCHWRIGHT_CALL(name) name##_kind(),
  static const std::vector<DecoderKind> kinds = [] {
    std::vector<DecoderKind> all{SWITCHWRIGHT_DECODERS(SWITCHWRIGHT_CALL)};
    std::sort(all.begin(), all.end(), [](const auto& a, const auto& b) { return a.name < b.name; });
    return all;
  }();
  return kinds;
}

}  // namespace switchwright
