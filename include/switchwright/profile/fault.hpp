// What can be wrong with a switch, as a change to its network.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "switchwright/profile/profile.hpp"

namespace switchwright {

enum class FaultKind {
  stuck_closed,  ///< a contact conducts at every position
  stuck_open,    ///< a contact never conducts
  resistive,     ///< a closed contact has `value` ohm
  open,          ///< an element is broken
  shorted,       ///< an element is bridged
  drifted,       ///< an element is off by `value` percent
  swapped,       ///< two leads are exchanged: `id` and `other` are terminals
  clocked,       ///< the knob sits `value` positions too far
  bridged,       ///< two nodes are joined that should not be: `id` and `other` are terminals or exposed metal
  tied,          ///< two contacts move as one, each closes where either should: `id` and `other` are contacts
};

struct Fault {
  FaultKind kind = FaultKind::stuck_open;
  std::string id;               ///< contact, element or first terminal; empty for clocked
  std::string other;            ///< swapped, bridged: second terminal; tied: second contact
  std::optional<double> value;  ///< resistive: ohm; drifted: percent; clocked: positions
  friend bool operator==(const Fault&, const Fault&) = default;
};

/// "stuck-closed:cycling", "resistive:line=5", "swapped:L1,L2", "clocked=1", "bridged:L1,CASE", "tied:line,cycling".
std::string to_string(const Fault& fault);
/// Reads KIND:ID[=VALUE] ("clocked:1" and "clocked=1" are the same) and checks the names against the profile. Of
/// two names the one that the profile lists first comes first in the result.
/// @throws Error(usage) with near names.
Fault parse_fault(const std::string& text, const Profile& profile);
/// Reads what a diagnosis names: one fault, several joined with " + ", or "none".
std::vector<Fault> parse_faults(const std::string& text, const Profile& profile);
/// The same, but a value may be left out and then stands for every value ("resistive:line", "clocked").
Fault parse_fault_pattern(const std::string& text, const Profile& profile);
/// What the profile says about a fault, the entry with its very value before the one for every value; nullptr
/// when it says nothing.
const Consequence* consequence_of(const Profile& profile, const Fault& fault);

}  // namespace switchwright
