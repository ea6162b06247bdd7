// A profile says what a part is: terminals, positions, contacts and elements, limits. Everything else (what a
// meter should read between any two terminals at any position) is derived from it.
#pragma once

#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "switchwright/core/interval.hpp"
#include "switchwright/core/pair.hpp"

namespace switchwright {

/// Defect classes of MIL-STD-105E.
enum class Severity { critical, major, minor };
std::string to_string(Severity severity);

struct Rating {
  double voltage_v = 0.0;
  double current_a = 0.0;
  std::optional<double> endurance_operations;  ///< declared by the maker: one opening or one closing counts as one
};

struct Position {
  std::string id;
  double angle_deg = 0.0;
  std::string label;  ///< words for a person; the id when the file gives none
  std::string go =
      {};  ///< what a person does to get there, without a full stop ("Close the door"); empty: the knob is turned
  std::string caution = {};  ///< what must be minded on the way there ("never with a flame"); may be empty
  double change_s =
      0.0;  ///< how long it takes to bring it about or to leave it, beyond turning a knob: warming, cooling
};

/// A contact is closed at some positions. One that cycles is closed when cold and opens and closes under
/// power.
struct Contact {
  std::string id;
  Pair between;
  std::vector<std::string> closed_at;
  std::vector<std::string> cycles_at;
  std::optional<double> current_a =
      std::nullopt;  ///< what this contact is made to carry, where that is not the rated current
  std::optional<double> sound_max_mv =
      std::nullopt;          ///< its own, where it is not that of [limits]; at the current it carries
  bool never_opens = false;  ///< closed at every position by its nature: a link, a fuse
  bool conducts_at(const std::string& position) const;  ///< closed or cycling (that is, closed when cold)
  bool cycles(const std::string& position) const;
};

/// A resistive part inside the switch: a heater, a lamp resistor. A lamp with a striking voltage conducts only above it,
/// with its nominal resistance once it is lit; an ohmmeter's few volts find it open.
struct Element {
  std::string id;
  Pair between;
  double nominal_ohm = 0.0;
  double tolerance_pct = 0.0;
  /// Alternating volts: surely dark below the first, surely lit from the second on.
  std::optional<Interval> strikes_v = std::nullopt;
  /// Not of the part: what it stays wired to while it is measured (profile/wired.hpp).
  bool outside = false;
};

struct Limits {
  double closed_max_ohm = 2.0;  ///< one closed contact, two-wire reading, leads subtracted
  /// The drop of a sound contact at the current it carries, from the part's sheet; absent in profiles that give ohms.
  std::optional<double> sound_max_mv;
  /// A sound contact that carries the rated current. What each contact may have: profile/contact_limits.hpp.
  double sound_max_ohm = 0.1;
  double open_min_ohm = 1e6;  ///< one open contact
};

struct InspectionQuestion {
  std::string ask;  ///< answered yes when all is well
  Severity severity = Severity::major;
};

/// What a serial meter cannot measure and is entered as stated.
enum class StatedQuantity {
  insulation_resistance,  ///< ohm, at least; at a test voltage that the words name
  withstand_current,      ///< A, at most; what leaks at the withstand voltage
  earth_bond,             ///< ohm, at most
  temperature_rise,       ///< K, at most; after soak at the rated current
  tab_pull,               ///< N, at least
};
std::string to_string(StatedQuantity quantity);  ///< "insulation-resistance", ...: the spelling of profiles
std::string unit_of(StatedQuantity quantity);    ///< "ohm", "A", "K", "N"

/// A limit for a stated result.
struct StatedRequirement {
  std::string id;
  StatedQuantity quantity = StatedQuantity::insulation_resistance;
  std::string what;             ///< between what and how: "L1 and L2 together to CASE, 500 V DC, one minute"
  Interval limit;               ///< in the unit of the quantity
  std::optional<double> U_pct;  ///< expanded uncertainty of the value, for statements that give none
  Severity severity = Severity::major;
  bool required = true;  ///< false: judged when it is stated, and not missed when it is not
};

/// A pair that is left out, with the reason.
struct NotChecked {
  Pair pair;
  std::vector<std::string> at;  ///< positions; empty means all
  std::string reason;
};

/// Limits on cycle timing at one position; an absent interval is not limited.
struct Timing {
  std::string position;
  std::optional<Interval> on_s;
  std::optional<Interval> off_s;
  std::optional<Interval> period_s;
  std::optional<Interval> duty;  ///< fraction, at rated voltage
};

/// What a fault does to the appliance and to the people around it, and what to do about it.
struct Consequence {
  std::string fault;  ///< as a fault is written; without "=VALUE" it stands for every value
  std::string means;
  std::string next;
  Severity severity = Severity::major;
};

/// Something outside the part that carries current while it is powered: the heating element, the pilot lamp.
struct PoweredLoad {
  std::string id;
  Pair between;  ///< terminals, or outside points
  double ohm = 0.0;
  double tolerance_pct = 0.0;
  bool lamp = false;                                 ///< shows state; not what the part is for
  std::optional<Interval> strikes_v = std::nullopt;  ///< as for an element
};

/// How the part is wired when it is tested under power.
struct Powered {
  Pair supply;                       ///< terminals, or outside points
  double voltage_v = 0.0;            ///< nominal, between the two
  std::string range;                 ///< where supply_v is from ("ansi-c84.1-a"), or "given"
  Interval supply_v;                 ///< what the supply may be
  std::vector<std::string> outside;  ///< points of the circuit that are no terminals of the part ("N")
  /// What exposed metal is bonded to: "" (nothing), "midpoint" of the supply (split phase), "star" (two legs
  /// of a three-phase supply), or one end of the supply.
  std::string earth;
  std::string earth_point = "EARTH";  ///< where the bond of exposed metal is measured from: the supply's earth terminal
  /// The most that the bond may read on the meter, leads included. A multimeter proves with this that a bond is there, not
  /// that it carries a fault current: 1 ohm is common practice, no source.
  double bond_max_ohm = 1.0;
  std::vector<PoweredLoad> loads;
  double contact_max_ohm = 0.1;  ///< one closed contact under load; sound_max_ohm when the file gives none
  double dead_max_v = 1.0;       ///< what counts as no voltage
};

struct Profile {
  int schema = 1;
  std::string id;  ///< file name without .toml
  std::string title;
  std::string values;  ///< where the numbers come from ("invented for demonstration; ...")
  Rating rating;
  std::string knob = "knob";  ///< the word for what is moved between positions
  std::vector<std::string> terminals;
  std::vector<std::string> exposed_metal;
  std::vector<std::string> internal;  ///< points of the network that no probe can reach
  std::vector<Position> positions;
  std::vector<Contact> contacts;
  std::vector<Element> elements;
  Limits limits;
  std::vector<InspectionQuestion> inspect;
  std::vector<StatedRequirement> stated;
  std::vector<NotChecked> not_checked;
  std::vector<Timing> timing;
  std::vector<Consequence> consequences;
  std::optional<Powered> powered;
  std::filesystem::path path;
  std::string source_text;  ///< the TOML file as read; kept in every record

  /// Terminals, then exposed metal, in the file's order.
  std::vector<std::string> nodes() const;
  /// nodes(), then the internal points: everything that a resistor may end at.
  std::vector<std::string> network_nodes() const;
  /// Every pair of nodes, in the file's order.
  std::vector<Pair> pairs() const;
  bool is_exposed_metal(const std::string& node) const;
  const Position* position(const std::string& id) const;
};

}  // namespace switchwright
