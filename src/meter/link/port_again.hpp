// Recognising an adapter that was unplugged and put back.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "switchwright/meter/ports.hpp"

namespace switchwright {

/// The USB port that `path` (a device or a link to one) leads to; nothing for built-in ports and
/// pseudo-terminals.
std::optional<PortInfo> port_behind(const std::string& path, const std::vector<PortInfo>& ports);

/// Device path of the port in `ports` that is the same adapter as `was`; empty when it is not there. With a
/// serial number the number decides; without one (two such adapters look alike) the socket it sits in
/// decides, and failing that the adapter must be the only one of its kind.
std::string port_again(const PortInfo& was, const std::vector<PortInfo>& ports);

}  // namespace switchwright
