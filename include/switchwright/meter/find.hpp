// Which meter is on which port? Listens at the line settings of every definition and lets every decoder have
// a try. A port may belong to a machine: nothing is written unless the caller allows it for the ports that a
// person named.
#pragma once

#include <cstdint>
#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "switchwright/core/clock.hpp"
#include "switchwright/core/loop.hpp"
#include "switchwright/core/reading.hpp"
#include "switchwright/meter/definition.hpp"
#include "switchwright/meter/ports.hpp"

namespace switchwright {

struct FindRequest {
  std::vector<std::string> ports;  ///< device paths, tcp:HOST:PORT, rfc2217:HOST:PORT
  std::vector<MeterDefinition> definitions;
  double listen_s = 2.5;  ///< at each line setting; less when a meter is recognised sooner
  /// Also send what the definitions of polled meters send (start commands, *IDN?, requests). Only for ports
  /// that a person named: on any other machine these bytes may be an order.
  bool ask = false;
};

struct FindCandidate {
  std::string meter;  ///< definition id
  std::string port;
  std::uint64_t frames = 0;       ///< valid
  std::uint64_t rejected = 0;     ///< frames rejected
  std::uint64_t stray_bytes = 0;  ///< bytes received that are in no valid frame
  double frames_per_s = 0.0;
  /// 0 to 1: the part of what was received that valid frames explain (bytes; frames when asked), halved when
  /// there was one frame only. 0.5 for a meter that gave its name (three fields at least) but no reading.
  double score = 0.0;
  bool asked = false;    ///< it answered; otherwise it sends by itself
  std::string identity;  ///< what it says it is, when asked; text from outside
  std::optional<Reading> example;
};

/// Why a port gave no candidate.
struct FindNote {
  std::string port;
  std::string text;  ///< one plain sentence
};

struct FindResult {
  std::vector<FindCandidate> candidates;  ///< best first
  std::vector<FindNote> notes;
};

/// Thread rule: lives on the loop's thread. All ports are tried side by side, the settings of one port after
/// one another.
class MeterFinder {
 public:
  /// `done` is called once from Loop::run(); `progress` (may be empty) with one sentence at each step.
  MeterFinder(Loop& loop, const Clock& clock, FindRequest request, std::function<void(FindResult)> done,
              std::function<void(const std::string&)> progress = {});
  ~MeterFinder();  ///< ends the search; no callback follows
  MeterFinder(const MeterFinder&) = delete;
  MeterFinder& operator=(const MeterFinder&) = delete;

 private:
  struct Impl;
  std::shared_ptr<Impl> impl_;
};

/// Why a port is not listened to unless a person names it; empty when it may be. Opening a port moves its
/// modem lines, which some machines take for a reset.
std::string left_alone_because(const PortInfo& port);

}  // namespace switchwright
