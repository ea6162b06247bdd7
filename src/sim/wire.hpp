// The end of the line on which the simulated meter sits. The tool opens the other end like any port.
#pragma once

#include <functional>
#include <memory>
#include <string>
#include <string_view>

#include "switchwright/core/loop.hpp"

namespace switchwright::sim {

/// Thread rule: lives on the loop's thread; `received` comes from Loop::run().
class Wire {
 public:
  virtual ~Wire() = default;
  /// What to give to --port.
  virtual const std::string& port() const = 0;
  /// Sends at once or loses the bytes, as a serial line does: nobody listening is no reason to wait.
  virtual void send(std::string_view bytes) = 0;
};

using Received = std::function<void(std::string_view bytes)>;
using Connected = std::function<void()>;

/// A pseudo-terminal. @throws Error(meter) when the system gives none.
std::unique_ptr<Wire> pty_wire(Loop& loop, Received received);
/// A listening TCP port on 127.0.0.1; one client at a time, the next one after it is gone; `connected` says
/// so.
std::unique_ptr<Wire> tcp_wire(Loop& loop, Received received, Connected connected);

}  // namespace switchwright::sim
