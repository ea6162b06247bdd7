// A device that may block (hidraw on writing, usbtmc on reading) gets a thread of its own; the loop holds one end
// of a socket pair and never waits. This thread and src/bench/keeper.hpp are the only ones beside the loop's.
#pragma once

#include <chrono>
#include <functional>
#include <future>
#include <memory>
#include <string>

#include "core/descriptor.hpp"
#include "meter/link/hid_bridge.hpp"
#include "meter/link/raw_device.hpp"

namespace switchwright {

struct Pump {
  Descriptor loop_side;
  std::future<void> ended;  ///< the thread has let the device go
};

/// Reports to bytes and bytes to reports until the other side closes or the device is gone.
void pump_hid(RawDevice& device, HidBridge bridge, int line);
/// Lines to messages; after a message that asks, its answer. Same end.
void pump_usbtmc(RawDevice& device, int line);

/// Starts `work` on its own thread with the far end of a socket pair.
Pump start_pump(std::shared_ptr<RawDevice> device, std::function<void(RawDevice&, int line)> work);

/// Closes the loop's side; what was said before still goes out, and is waited for this long at most.
void end_pump(Descriptor loop_side, std::future<void>& ended, std::chrono::milliseconds patience);

}  // namespace switchwright
