// Opening a serial device the way a bench needs it: exclusively, with every line setting stated and read
// back, and with one clear sentence when it cannot be done. No waiting and no reading here.
#pragma once

#include <string>

#include "core/descriptor.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/meter/definition.hpp"

namespace switchwright {

struct SerialPort {
  Descriptor fd;                 ///< non-blocking, exclusive (flock, and TIOCEXCL on a real port)
  bool pseudo_terminal = false;  ///< no modem lines, no speed; forces 8 bits without parity
};

/// @throws Error(meter): no such port (with the ports there are), not a serial port, no permission, in use,
/// or a line setting that the port refuses.
SerialPort open_serial_port(const std::string& path, const LinkSettings& settings);

/// Raises or drops DTR and RTS as the definition says; a pseudo-terminal has none, which is no error.
void set_modem_lines(int fd, const LinkSettings& settings);

/// The device behind an open descriptor is gone (unplugged, or the other side of a pseudo-terminal closed).
bool serial_port_gone(int fd, const std::string& path);

/// Closes without ever waiting for a dead peer: what is still unsent after a short bound is thrown away.
void close_serial_port(Descriptor fd, bool pseudo_terminal);

/// "2400 baud, 8 data bits, no parity, 1 stop bit"
std::string line_words(const LinkSettings& settings);

}  // namespace switchwright
