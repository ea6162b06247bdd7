// Whoever moves probes and knob: a person, a scanner, or the simulator. The session asks for an arrangement; the
// hands say when it stands.
#pragma once

#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <string_view>

#include "switchwright/core/loop.hpp"
#include "switchwright/core/pair.hpp"
#include "switchwright/core/quantity.hpp"

namespace switchwright {

enum class Probes { off, shorted, on_pair, on_known_source };
/// A bench supply clipped to the pair: off, on, on with its two clips exchanged, or on with one clip hanging free.
enum class CurrentSwitch { off, on, reversed, one_clip };
/// "off", "on", "reversed", "one-clip": the spelling of messages.
std::string_view name_of(CurrentSwitch current);
std::optional<CurrentSwitch> current_switch_named(std::string_view name);

struct Arrangement {
  Probes probes = Probes::off;
  Pair pair;             ///< with on_pair
  std::string position;  ///< knob position; empty: leave it
  Quantity dial = Quantity::resistance;
  /// The supply switched on or off by whoever the hands are: the tool never switches power itself. Absent: leave it.
  std::optional<bool> power = std::nullopt;
  /// The direct current of a bench supply through the pair, in the same way. Absent: leave it.
  std::optional<CurrentSwitch> current = std::nullopt;
  double current_a = 0.0;  ///< what the supply is set to; with `current`

  friend bool operator==(const Arrangement&, const Arrangement&) = default;
};

class Hands {
 public:
  virtual ~Hands() = default;
  /// Asks for an arrangement; `done` is called from the loop when it stands, `failed` with one sentence when it
  /// cannot be made.
  virtual void arrange(const Arrangement& arrangement, std::function<void()> done,
                       std::function<void(std::string)> failed) = 0;
  /// These hands state contact by construction (a fixture, the simulator); a person states it step by step.
  virtual bool states_contact() const = 0;
  /// A settled reading counts without somebody confirming it.
  virtual bool confirms_itself() const = 0;
  /// These hands wait for a person just now (the knob of a fixture): no reason to lose patience.
  virtual bool waits_for_person() const { return false; }
  /// The meter was lost or fell silent. Where it is the scanner too, nobody knows how its relays stand when it is back.
  virtual void meter_lost(const std::string& detail) { (void)detail; }
  /// Another unit of a lot goes to the bench: its number in the carton. A person is told by the instruction, so `done` comes
  /// at once, with what the hands have read on its label (empty: nobody has looked).
  virtual void take_unit(int number, std::function<void(std::string label)> done,
                         std::function<void(std::string)> failed) {
    (void)number;
    (void)failed;
    done({});
  }
  /// What the display of the current supply shows, A, as the latest arrangement stands; nothing when nobody looks.
  virtual std::optional<double> supply_shows_a() const { return std::nullopt; }
  virtual std::string name() const = 0;  ///< "person", "simulator", "scanner"
};

/// A person: arranging is showing the instruction, so `done` comes at once.
std::unique_ptr<Hands> person_hands(Loop& loop);

/// The simulator, over its local socket. One JSON object per line each way:
///   -> {"id":7,"probes":"pair","pair":["L1","H1"],"position":"low","dial":"resistance"}
///   <- {"id":7,"done":true}   or   {"id":7,"done":false,"reason":"no terminal is called \"H9\""}
/// "current":"on", "off", "reversed" or "one-clip", with "amps":1.0, asks for a current supply that is clipped to the pair to be switched; the answer
/// may carry what its display shows: {"id":7,"done":true,"supply_shows_a":1.0}.
/// "unit":17 asks for that unit of the carton to be put on the bench; the answer may carry its label: "label":"SN-0017".
/// "power":"on" or "off" asks for the supply to be switched. "probes" is "off", "shorted", "pair" or "known-source"; absent keys leave things as they are.
/// @throws Error(meter) when the socket cannot be reached.
std::unique_ptr<Hands> simulator_hands(Loop& loop, const std::string& socket_path);

}  // namespace switchwright
