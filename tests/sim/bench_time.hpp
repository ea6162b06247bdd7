// Helps the tests of the simulated bench: turns the loop until something has happened, and reads a descriptor
// in between without blocking.
#pragma once

#include <fcntl.h>
#include <sys/socket.h>
#include <sys/un.h>
#include <unistd.h>

#include <chrono>
#include <cstring>
#include <functional>
#include <string>
#include <utility>
#include <vector>

#include "switchwright/core/loop.hpp"

namespace switchwright::sim {

/// Turns the loop until `happened`; false after `limit`.
inline bool turn_until(Loop& loop, const std::function<bool()>& happened,
                       std::chrono::milliseconds limit = std::chrono::milliseconds{5000}) {
  const auto end = std::chrono::steady_clock::now() + limit;
  while (!happened()) {
    if (std::chrono::steady_clock::now() > end) return false;
    const auto pause = loop.after(std::chrono::microseconds{500}, [&loop] { loop.stop(); });
    loop.run();
  }
  return true;
}

/// A non-blocking end of a line or socket.
class RawEnd {
 public:
  explicit RawEnd(int fd) : fd_(fd) { ::fcntl(fd_, F_SETFL, O_NONBLOCK); }
  static RawEnd device(const std::string& path) { return RawEnd{::open(path.c_str(), O_RDWR | O_NOCTTY)}; }
  static RawEnd unix_socket(const std::string& path) {
    const int fd = ::socket(AF_UNIX, SOCK_STREAM, 0);
    sockaddr_un address{};
    address.sun_family = AF_UNIX;
    std::strncpy(address.sun_path, path.c_str(), sizeof address.sun_path - 1);
    if (::connect(fd, reinterpret_cast<const sockaddr*>(&address), sizeof address) != 0) return RawEnd{-1};
    return RawEnd{fd};
  }
  RawEnd(RawEnd&& other) noexcept : fd_(other.fd_) { other.fd_ = -1; }
  RawEnd(const RawEnd&) = delete;
  ~RawEnd() {
    if (fd_ >= 0) ::close(fd_);
  }

  bool good() const { return fd_ >= 0; }
  int fd() const { return fd_; }
  bool write(const std::string& text) const {
    return ::send(fd_, text.data(), text.size(), MSG_NOSIGNAL) == static_cast<ssize_t>(text.size()) ||
           ::write(fd_, text.data(), text.size()) == static_cast<ssize_t>(text.size());
  }
  /// Everything received so far.
  const std::string& received() {
    char buffer[4096];
    for (ssize_t n = 0; (n = ::read(fd_, buffer, sizeof buffer)) > 0;)
      received_.append(buffer, static_cast<std::size_t>(n));
    return received_;
  }
  /// The same, each byte once.
  std::string taken() {
    received();
    return std::exchange(received_, {});
  }
  void forget() {
    received();
    received_.clear();
  }
  bool ended() const {
    char one = 0;
    return ::recv(fd_, &one, 1, MSG_PEEK | MSG_DONTWAIT) == 0;
  }

 private:
  int fd_;
  std::string received_;
};

inline std::vector<std::string> lines_of(const std::string& text) {
  std::vector<std::string> lines;
  for (std::size_t from = 0, to = 0; (to = text.find('\n', from)) != std::string::npos; from = to + 1)
    lines.push_back(text.substr(from, to - from));
  return lines;
}

}  // namespace switchwright::sim
