// The resistors of a profile at one position, with a value for each kind of part.
#pragma once

#include <functional>
#include <string>
#include <vector>

#include "switchwright/profile/expectation.hpp"
#include "switchwright/profile/fault.hpp"
#include "switchwright/profile/network.hpp"
#include "switchwright/profile/profile.hpp"

namespace switchwright::profile_parts {

struct PartOhms {
  double closed_contact = 0.0;
  double open_contact = 0.0;
  std::function<double(const Element&)> element;
};

inline double nominal_ohm(const Element& element) { return element.nominal_ohm; }
inline double least_ohm(const Element& element) { return element.nominal_ohm * (1.0 - element.tolerance_pct / 100.0); }
inline double most_ohm(const Element& element) { return element.nominal_ohm * (1.0 + element.tolerance_pct / 100.0); }

std::vector<Resistor> resistors(const Profile& profile, const std::string& position, const PartOhms& ohms);

/// The contacts that conduct at a position, as 0 ohm, and nothing else.
std::vector<Resistor> closed_contacts(const Profile& profile, const std::string& position);

/// Profile::network_nodes(), then the outside points of the powered circuit.
std::vector<std::string> powered_network_nodes(const Profile& profile);

/// The entry that leaves a pair out at a position, or nullptr.
const NotChecked* left_out(const Profile& profile, const std::string& position, const Pair& pair);

/// The resistors of one concrete switch with faults in it; `opened` names cycling contacts that have opened,
/// `lit` the lamps that have struck.
std::vector<Resistor> faulted_resistors(const Profile& profile, const std::string& position, const PartValues& values,
                                        const std::vector<Fault>& faults, const std::vector<std::string>& opened = {},
                                        const std::vector<std::string>& lit = {});

}  // namespace switchwright::profile_parts
