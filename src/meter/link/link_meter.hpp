// A meter on a live link, with its decoder given: what open_meter() opens once it has made the decoder, and
// what tests open with a decoder of their own.
#pragma once

#include <memory>
#include <string>

#include "switchwright/meter/meter.hpp"

namespace switchwright {

class Endpoint;

/// Where the line cannot do seven bits (pseudo-terminals, serial servers, some adapters) the eighth is no
/// data: it is taken off, unless the decoder checks the parity that it then carries.
inline bool drops_eighth_bit(const MeterDefinition& definition) {
  const bool decoder_checks_parity = definition.decoder.kind.starts_with("ascii-nibble");
  return definition.link.data_bits == 7 && (definition.link.parity == Parity::none || !decoder_checks_parity);
}

/// @throws Error(meter) when the first open fails, Error(usage) for a port that is not spelled right.
std::unique_ptr<Meter> open_link_meter(Loop& loop, const Clock& clock, const MeterDefinition& definition,
                                       const std::string& port, std::unique_ptr<Decoder> decoder,
                                       MeterCallbacks callbacks);

/// The same on an endpoint that is at hand (tests: one that stands on a socket pair).
std::unique_ptr<Meter> open_link_meter(Loop& loop, const Clock& clock, const MeterDefinition& definition,
                                       std::unique_ptr<Endpoint> endpoint, std::unique_ptr<Decoder> decoder,
                                       MeterCallbacks callbacks);

}  // namespace switchwright
