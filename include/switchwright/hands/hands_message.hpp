// One line from the hands, checked before anything moves: either the whole message is obeyed or nothing of
// it.
#pragma once

#include <optional>
#include <stdexcept>
#include <string>

#include "switchwright/hands/hands.hpp"
#include "switchwright/profile/profile.hpp"

namespace switchwright {

struct HandsMessage {
  std::optional<Probes> probes;
  std::optional<Pair> pair;
  std::optional<std::string> position;
  std::optional<Quantity> dial;
  std::optional<std::string> meter;      ///< whose probes and dial; the first meter's when absent
  std::optional<CurrentSwitch> current;  ///< of the bench supply that is clipped to the pair
  std::optional<double> amps;            ///< what it is set to
  std::optional<int> unit;               ///< of a carton: it goes to the bench
  std::optional<bool> power;             ///< on or off: the person or the bench switches it, never the tool
};

/// The answer to one message: its id as it came, done or the reason why not.
struct HandsRequest {
  std::string id = "null";  ///< JSON text
  std::optional<HandsMessage> message;
  std::string reason;  ///< one clause, when there is no message
};

HandsRequest read_hands_request(const std::string& line, const Profile& profile);
std::string done_line(const std::string& id, std::optional<double> supply_shows_a = std::nullopt,
                      const std::string& label = {});
std::string refused_line(const std::string& id, const std::string& reason);

}  // namespace switchwright
