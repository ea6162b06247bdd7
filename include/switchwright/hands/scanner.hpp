// A scanner as hands for the probes: relays connect the meter's two leads to terminals of a fixture, by SCPI-1999 channel
// lists; a person turns the knob. What stands behind which channel is a TOML file:
//
//   schema = 1
//   title = "Fixture 2, five terminals"
//   port = "tcp:192.168.1.31:5025"     # leave out when the meter itself switches (one link for both)
//   settle_s = 0.05                    # after the relays
//   [first]                            # the meter's first lead
//   L1 = 101
//   L2 = 102
//   [second]                           # the second lead
//   L1 = 201
//   L2 = 202
//   [special]
//   shorted = [199, 299]               # both leads on one point, for the lead resistance
//   known_source = [198, 298]          # a source known to be live; left out: a person connects it
//   [commands]                         # one per line; {channels} becomes 101,202
//   open_all = "ROUT:OPEN:ALL"
//   close = "ROUT:CLOS (@{channels})"
#pragma once

#include <filesystem>
#include <functional>
#include <map>
#include <memory>
#include <string>
#include <vector>

#include "switchwright/core/clock.hpp"
#include "switchwright/hands/hands.hpp"
#include "switchwright/meter/meter.hpp"
#include "switchwright/profile/profile.hpp"

namespace switchwright {

struct ScannerMap {
  std::string title;
  std::string port;  ///< empty: the meter's own link
  int baud = 9600;
  double settle_s = 0.05;
  std::map<std::string, std::string> first;  ///< terminal -> channel
  std::map<std::string, std::string> second;
  std::vector<std::string> shorted;
  std::vector<std::string> known_source;
  std::string open_all = "ROUT:OPEN:ALL";
  std::string close = "ROUT:CLOS (@{channels})";

  /// The command that closes these channels.
  std::string close_command(const std::vector<std::string>& channels) const;
};

/// @throws Error(usage) with every mistake of the file, and every terminal of the profile without a channel, at once.
ScannerMap load_scanner_map(const std::filesystem::path& path, const Profile& profile);

/// Asks a person for something the scanner cannot do and calls `done` when the person says that it is done.
using AskPerson = std::function<void(const std::string& words, std::function<void()> done)>;

/// @param meter the switching meter when the map names no port; must outlive the hands
/// @throws Error(meter) when the scanner's own port cannot be opened.
std::unique_ptr<Hands> scanner_hands(Loop& loop, const Clock& clock, ScannerMap map, const Profile& profile,
                                     Meter* meter, AskPerson ask);

}  // namespace switchwright
