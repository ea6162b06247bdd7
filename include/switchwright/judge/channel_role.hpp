// What a channel of a trace is connected to. A role is said, never guessed from parts of a name.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "switchwright/profile/profile.hpp"

namespace switchwright {

enum class ChannelRole {
  load,   ///< across what the contact feeds: its on and off times are judged
  pilot,  ///< across the pilot lamp: live as long as the knob is on
  line,   ///< across the supply in front of the switch
  other,  ///< recorded, not judged
};
std::string to_string(ChannelRole role);  ///< "load", "pilot", "line", "other"
std::optional<ChannelRole> role_named(const std::string& word);
std::vector<std::string> role_words();

/// The role that a whole name says: the words load, line and pilot, and the names that the profile gives its loads and
/// lamps. A unit behind it does not count ("line (V)"). Nothing when the name says none: the role has to be stated.
std::optional<ChannelRole> role_of_name(const std::string& name, const Profile& profile);

/// A whole name, its unit aside, is that of this load.
bool names_load(const std::string& name, const PoweredLoad& load);

/// A channel and what is known of its role.
struct NamedChannel {
  std::string name;
  std::optional<ChannelRole> stated;
};
/// The role of each: as stated, or as its name says; a single channel is the load. What is left is `other`.
std::vector<ChannelRole> roles_of(const std::vector<NamedChannel>& channels, const Profile& profile);

}  // namespace switchwright
