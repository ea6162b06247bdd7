// A meter on a live link, with its decoder given: what open_meter() opens once it has made the decoder, and
// what tests open with a decoder of their own.
#pragma once

#include <memory>
#include <string>

#include "switchwright/meter/meter.hpp"

namespace switchwright {

/// @throws Error(meter) when the first open fails, Error(usage) for a port that is not spelled right.
std::unique_ptr<Meter> open_link_meter(Loop& loop, const Clock& clock, const MeterDefinition& definition,
                                       const std::string& port, std::unique_ptr<Decoder> decoder,
                                       MeterCallbacks callbacks);

}  // namespace switchwright
