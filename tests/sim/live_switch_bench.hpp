// A shipped regulator under power, in time that the test moves.
#pragma once

#include <doctest/doctest.h>

#include <cmath>
#include <vector>

#include "sim/live_switch.hpp"
#include "switchwright/profile/library.hpp"

namespace switchwright::sim {

inline Profile regulator() { return load_profile("regulator-shunt-240", {SOURCE_DIR "/profiles"}); }

/// On and off times at rated voltage are set to one value each.
inline Profile regulator_timed(double on_s, double off_s) {
  Profile profile = regulator();
  profile.timing.clear();
  Timing timing;
  timing.position = "medium";
  timing.on_s = Interval{on_s, on_s};
  timing.off_s = Interval{off_s, off_s};
  profile.timing.push_back(timing);
  return profile;
}

inline SimulatorSettings exact() {
  SimulatorSettings settings;
  settings.power.scatter = 0.0;
  settings.power.bounces = 0;
  return settings;
}

/// Lets the switch run and returns the instants at which its contact changes, found by asking for the next
/// event.
inline std::vector<ContactEvent> run(LiveSwitch& part, double from_s, std::size_t events) {
  std::vector<ContactEvent> seen;
  double at_s = from_s;
  while (seen.size() < events) {
    at_s = part.contact().next_event_s();
    if (!std::isfinite(at_s)) break;
    part.advance(at_s);
    seen.push_back({at_s, part.contact().closed()});
  }
  return seen;
}

struct Cycle {
  double on_s = 0.0;
  double off_s = 0.0;
};

inline Cycle steady_cycle(LiveSwitch& part) {
  const auto events = run(part, 0.0, 8);
  REQUIRE(events.size() == 8);
  REQUIRE(events[5].closed);
  return {events[6].at_s - events[5].at_s, events[7].at_s - events[6].at_s};
}

}  // namespace switchwright::sim
