// A meter on a link: opens the port, keeps it open, asks when the meter must be asked, decodes, and says when
// the link is lost and found again.
#pragma once

#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "switchwright/core/clock.hpp"
#include "switchwright/core/loop.hpp"
#include "switchwright/core/reading.hpp"
#include "switchwright/meter/decoder.hpp"
#include "switchwright/meter/definition.hpp"

namespace switchwright {

enum class LinkState {
  open,    ///< port opened, nothing decoded yet
  alive,   ///< valid frames arrive (first one, or the first after silence or loss)
  silent,  ///< open, but no valid frame for silent_after_s; `detail` says what did arrive
  lost,    ///< unplugged or closed by the peer; the meter is looked for again
  ended,   ///< a replayed file is at its end
};

struct LinkChange {
  LinkState state = LinkState::open;
  std::string detail;  ///< one plain sentence for a person, with what to do next
  Instant at;
  bool remark = false;  ///< the state is what it was; `detail` is something else that a person must know
  /// The meter cannot be set to this quantity, or nothing shows that it is: no reading of it will come.
  std::optional<Quantity> cannot_be_set = {};
};

struct MeterCallbacks {
  std::function<void(const Reading&)> reading;
  std::function<void(const LinkChange&)> link;
  std::function<void(std::string_view bytes, Instant at)> bytes;  ///< everything received, for a capture; may be empty
};

struct MeterOptions {
  bool replay_fast = false;  ///< replay: as fast as possible instead of at the recorded pace
};

/// Thread rule: lives on the loop's thread. Callbacks come from Loop::run().
class Meter {
 public:
  virtual ~Meter() = default;
  /// Selects a quantity where the definition can (no effect otherwise). Takes effect before the next reading.
  virtual void select(Quantity quantity) = 0;
  /// Sends commands between two readings, one per line, and reads the meter's error queue after them (SCPI).
  /// `done` is called from the loop with an empty text, or with the meter's complaint. Readings asked for
  /// before do not come any more. After a loss of the link an order that was not done is given again.
  virtual void order(std::vector<std::string> commands, std::function<void(std::string trouble)> done) {
    (void)commands;
    done("this link takes no commands");
  }
  /// Ends: sends the stop commands, closes the port. No callback follows.
  virtual void stop() = 0;
  virtual const FrameCounts& counts() const = 0;
  /// What the meter says it is (*IDN?), or an empty string.
  virtual std::string identity() const = 0;
};

/// Opens `port` (a device path, tcp:HOST:PORT, rfc2217:HOST:PORT, or replay:FILE) for a meter that talks as
/// `definition` says. The meter must not outlive the loop.
/// @throws Error(meter) when the first open fails: no such port (with the ports there are), no permission, in
/// use; Error(usage) for an address that is not HOST:PORT and for a file that is not a capture.
std::unique_ptr<Meter> open_meter(Loop& loop, const Clock& clock, const MeterDefinition& definition,
                                  const std::string& port, MeterCallbacks callbacks, MeterOptions options = {});

}  // namespace switchwright
