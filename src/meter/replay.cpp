#include "meter/replay.hpp"

#include "switchwright/core/error.hpp"
namespace switchwright {
std::unique_ptr<Meter> open_replay(Loop&, const Clock&, const MeterDefinition&, const std::string& port,
                                   std::unique_ptr<Decoder>, MeterCallbacks, MeterOptions) {
  throw Error(ErrorKind::usage, "replay is not built yet", port);
}
}  // namespace switchwright
