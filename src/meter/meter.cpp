#include "switchwright/meter/meter.hpp"

#include "meter/link/link_meter.hpp"
#include "meter/link/replay.hpp"

namespace switchwright {

std::unique_ptr<Meter> open_meter(Loop& loop, const Clock& clock, const MeterDefinition& definition,
                                  const std::string& port, MeterCallbacks callbacks, MeterOptions options) {
  auto decoder = make_decoder(definition);
  if (port.starts_with("replay:"))
    return open_replay(loop, clock, definition, port, std::move(decoder), std::move(callbacks), options);
  return open_link_meter(loop, clock, definition, port, std::move(decoder), std::move(callbacks));
}

}  // namespace switchwright
