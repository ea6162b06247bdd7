#include "meter/link/write_some.hpp"

#include <sys/socket.h>
#include <unistd.h>

#include <cerrno>

namespace switchwright {

ssize_t write_some(int fd, std::string_view bytes) {
  const ssize_t sent = ::send(fd, bytes.data(), bytes.size(), MSG_NOSIGNAL | MSG_DONTWAIT);
  if (sent >= 0 || errno != ENOTSOCK) return sent;
  return ::write(fd, bytes.data(), bytes.size());
}

}  // namespace switchwright
