// A capture file in place of a meter.
#pragma once

#include <memory>
#include <string>

#include "switchwright/meter/meter.hpp"

namespace switchwright {

/// `port` is replay:FILE. @throws Error(usage) when the file cannot be read or is not a capture.
std::unique_ptr<Meter> open_replay(Loop& loop, const Clock& clock, const MeterDefinition& definition,
                                   const std::string& port, std::unique_ptr<Decoder> decoder, MeterCallbacks callbacks,
                                   MeterOptions options);

}  // namespace switchwright
