#include <unistd.h>

#include <nlohmann/json.hpp>

#include "cli/options.hpp"
#include "cli/output.hpp"
#include "cli/places.hpp"
#include "switchwright/bench/interrupt.hpp"
#include "switchwright/core/clock.hpp"
#include "switchwright/core/loop.hpp"
#include "switchwright/profile/fault.hpp"
#include "switchwright/profile/library.hpp"
#include "switchwright/sim/simulator.hpp"

namespace switchwright::cli {

int run(const SimulateOptions& options) {
  const Profile profile = load_profile(options.profile, profile_places());
  const MeterDefinition meter = load_meter_definition(options.meter, meter_places());
  SimulatorSettings settings;
  for (const std::string& fault : options.faults) settings.faults.push_back(parse_fault(fault, profile));
  settings.rate_hz = options.rate_hz;
  settings.link = options.link;
  settings.seed = options.seed;

  Loop loop;
  const SystemClock clock;
  const Interrupt interrupt{loop, [&loop] { loop.stop(); }};
  const Simulator simulator{loop, clock, profile, meter, settings};
  put_line(nlohmann::ordered_json{{"type", "ready"},
                                  {"port", simulator.port()},
                                  {"hands", simulator.hands_socket()},
                                  {"profile", profile.id},
                                  {"meter", meter.id},
                                  {"pid", ::getpid()}}
               .dump());
  loop.run();
  return 0;
}

}  // namespace switchwright::cli
