// Non-blocking write to a serial device or a socket.
#pragma once

#include <sys/types.h>

#include <string_view>

namespace switchwright {

/// @returns bytes taken by the system, or -1 with errno set; a closed socket is an error, never a signal.
ssize_t write_some(int fd, std::string_view bytes);

}  // namespace switchwright
