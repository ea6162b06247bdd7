// A stand-in for the outside world: a switch with faults, a meter that speaks a real meter's bytes on a real
// pseudo-terminal or TCP port, and hands that obey messages on a local socket. Nothing in here is called by
// the tool; it is reached through the link alone.
#pragma once

#include <cstdint>
#include <map>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "switchwright/core/clock.hpp"
#include "switchwright/core/loop.hpp"
#include "switchwright/hands/hands.hpp"
#include "switchwright/meter/definition.hpp"
#include "switchwright/profile/fault.hpp"
#include "switchwright/profile/profile.hpp"
#include "switchwright/sim/carton.hpp"

namespace switchwright {

/// The switch under power: a bimetal heated through the contact, and what can go wrong with it. The wiring is
/// the profile's [powered] part. Where the profile's timing gives limits, the snap points of the bimetal are
/// set so that a sound switch at rated voltage is in their middle.
struct SimulatedPower {
  bool on = false;                 ///< at the start; later the hands switch it
  std::optional<double> supply_v;  ///< what the supply gives; the profile's nominal voltage when absent
  double sway = 0.0;               ///< share by which the supply slowly rises and falls
  double sway_period_s = 600.0;
  double ripple = 0.0;                     ///< share by which it jumps about, twice a second
  std::optional<Pair> supply_between;      ///< wired to other points than the profile says
  std::optional<std::string> earth;        ///< earthed otherwise than the profile says: its words, or "" for not at all
  std::optional<double> supply_lost_at_s;  ///< after it was first switched on, the supply gives nothing any more
  std::optional<double> supply_lost_for_s;  ///< and comes back after so long; absent: it stays away
  double bond_ohm = 0.05;                   ///< exposed metal to the supply's earth; infinity: not bonded
  std::optional<double> load_ohm;           ///< what hangs on the switch in place of the profile's first load
  double ambient_c = 23.0;
  double ambient_compensation = 1.0;  ///< share of an ambient change that the second bimetal takes out, 0 to 1
  double time_constant_s = 30.0;      ///< of bimetal and heater
  double rated_rise_k = 200.0;        ///< rise of the bimetal in the end, contact closed, at rated voltage
  std::optional<std::int64_t> welds_at_operation;  ///< this opening does not come any more
  double drift_per_opening = 0.0;                  ///< share by which the snap points grow with every opening
  double scatter = 0.005;             ///< standard deviation of a snap point from cycle to cycle, as a share
  int bounces = 3;                    ///< of the contact after closing
  double bounce_s = 0.002;            ///< the first bounce; each further one half as long
  std::optional<double> averaging_s;  ///< the meter averages over this; 0.4 of its update interval when absent
};

/// A bench supply for the millivolt drop, clipped to the pair that the first meter's probes are on; the hands switch it.
struct SimulatedCurrent {
  bool dead = false;        ///< switched on, it gives nothing
  bool stuck_on = false;    ///< switched off, it goes on
  double share = 1.0;       ///< of the current that it is set to, what it really gives
  bool has_display = true;  ///< the hands read what it shows
  bool shows_set = false;   ///< the display shows what it is set to, whatever it gives
  double open_circuit_v = 12.0;
  double thermal_v = 0.0;  ///< stands at every closed contact, current or not
  double thermal_drift_v_per_s = 0.0;
};

/// A further meter, clipped onto one pair of the same switch.
struct SimulatedMeter {
  std::string name;  ///< "line", "pilot", ...: for Simulator::port and the hands' key "meter"
  MeterDefinition definition;
  Pair pair;
  Quantity dial = Quantity::voltage_ac;
  std::optional<double> rate_hz;
};

/// A source of its own between two terminals: a coil's supply that was not taken off, a charged capacitor.
struct SimulatedVolts {
  Pair pair;
  double volts = 0.0;  ///< RMS for AC; DC from the pair's first to its second
  bool dc = false;
};

struct SimulatorSettings {
  std::vector<Fault> faults;
  std::optional<double> rate_hz;  ///< readings per second; the definition's update rate when absent
  std::string link = "pty";       ///< "pty" or "tcp"
  std::uint64_t seed = 1;         ///< meter noise is repeatable
  double lead_ohm = 0.12;         ///< resistance of the two leads together
  double healthy_contact_ohm = 0.012;
  double known_source_v = 24.0;    ///< what the probes meet on the known source (AC)
  double known_source_dc_v = 9.0;  ///< and on the one for DC
  double shorted_ohm = 0.0;        ///< what the tips have beside the leads when they are held together badly
  double offset_ohm = 0.0;         ///< zero error of the meter on ohms
  std::vector<SimulatedVolts> volts;
  std::map<std::string, double> fingers;  ///< position: the probes are off the part, skin of so many ohm between
  std::map<std::string, std::vector<double>> closings;  ///< contact: its ohms at each closing, over and over
  Arrangement start;  ///< of the first meter; the position is the profile's first one when empty
  SimulatedPower power;
  SimulatedCurrent current;
  std::vector<SimulatedMeter> more_meters;
  SimulatedCarton carton;                        ///< the hands put one unit after another on the bench
  std::map<std::string, double> references_ohm;  ///< resistors that lie beside the part, between NAME/1 and NAME/2
};

/// Hands messages (one JSON object per line) are those of simulator_hands, and beside them for whoever plays
/// the person at the bench: "power":"on"|"off" (connects and disconnects supply and load), and "meter":NAME
/// to move the probes and the dial of a further meter. "unit":N puts a unit of the carton on the bench. Thread rule: lives on the loop's thread.
class Simulator {
 public:
  /// @throws Error(usage) for settings that cannot be, Error(meter) when the system gives no line or socket.
  Simulator(Loop& loop, const Clock& clock, Profile profile, MeterDefinition meter, SimulatorSettings settings);
  ~Simulator();
  Simulator(const Simulator&) = delete;
  Simulator& operator=(const Simulator&) = delete;

  /// Another piece of the same part on the bench, with these faults and cold; probes, knob and supply stay as they are.
  /// @throws Error(usage) for faults that cannot be.
  void put_in(std::vector<Fault> faults);

  /// Device path, or tcp:127.0.0.1:PORT: what to give to --port for the first meter.
  const std::string& port() const;
  /// The same for a further meter. @throws std::out_of_range for an unknown name.
  const std::string& port(const std::string& meter) const;
  /// Path of the hands socket: what to give to --hands sim:PATH.
  const std::string& hands_socket() const;

 private:
  struct Impl;
  std::unique_ptr<Impl> impl_;
};

}  // namespace switchwright
