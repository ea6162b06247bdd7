#include "meter/link/device_pump.hpp"

#include <poll.h>
#include <sys/socket.h>
#include <unistd.h>

#include <array>
#include <cerrno>
#include <thread>
#include <utility>

#include "switchwright/core/error.hpp"

namespace switchwright {

namespace {

constexpr int failures_to_give_up = 3;  ///< in a row

/// @returns false when nobody listens any more.
bool pass_on(int line, std::string_view bytes) {
  while (!bytes.empty()) {
    const ssize_t count = ::send(line, bytes.data(), bytes.size(), MSG_NOSIGNAL);
    if (count < 0 && errno == EINTR) continue;
    if (count <= 0) return false;
    bytes.remove_prefix(static_cast<std::size_t>(count));
  }
  return true;
}

bool is_gone(int error) {
  return error == ENODEV || error == ENXIO || error == ESHUTDOWN || error == EBADF || error == ENOENT;
}

/// Gives one answer to the loop's side. An answer ends with its message, not with a line feed: one is added.
/// @returns false when the device is gone or nobody listens.
bool fetch_answer(RawDevice& device, int line, int& failures) {
  std::array<char, 4096> buffer;
  std::string answer;
  for (;;) {
    const ssize_t count = device.read(buffer.data(), buffer.size());
    if (count < 0 && errno == EINTR) continue;
    if (count < 0) {
      if (is_gone(errno) || ++failures >= failures_to_give_up) return false;
      (void)device.clear();  // no answer in time: the device and the driver forget the exchange
      return true;
    }
    failures = 0;
    answer.append(buffer.data(), static_cast<std::size_t>(count));
    if (static_cast<std::size_t>(count) < buffer.size()) break;
  }
  if (!answer.empty() && answer.back() != '\n') answer += '\n';
  return pass_on(line, answer);
}

}  // namespace

void pump_hid(RawDevice& device, HidBridge bridge, int line) {
  std::array<char, 4096> buffer;
  std::array<pollfd, 2> waits{{{line, POLLIN, 0}, {device.descriptor(), POLLIN, 0}}};
  for (;;) {
    if (::poll(waits.data(), waits.size(), -1) < 0) {
      if (errno == EINTR) continue;
      return;
    }
    if (waits[1].revents != 0) {
      const ssize_t count = device.read(buffer.data(), buffer.size());
      if (count < 0 && errno != EINTR && errno != EAGAIN) return;
      if (count == 0) return;
      if (count > 0 && !pass_on(line, bridge.decode({buffer.data(), static_cast<std::size_t>(count)}))) return;
    }
    if (waits[0].revents != 0) {
      const ssize_t count = ::recv(line, buffer.data(), buffer.size(), 0);
      if (count <= 0) return;
      for (const std::string& report : bridge.encode({buffer.data(), static_cast<std::size_t>(count)}))
        if (device.write(report) < 0 && is_gone(errno)) return;
    }
  }
}

void pump_usbtmc(RawDevice& device, int line) {
  std::array<char, 4096> buffer;
  std::string message;
  int failures = 0;
  for (;;) {
    const ssize_t count = ::recv(line, buffer.data(), buffer.size(), 0);
    if (count < 0 && errno == EINTR) continue;
    if (count <= 0) return;
    for (ssize_t i = 0; i < count; ++i) {
      const char c = buffer[static_cast<std::size_t>(i)];
      if (c != '\n' && c != '\r') {
        message += c;
        continue;
      }
      if (message.empty()) continue;
      const bool asks = message.find('?') != std::string::npos;
      const ssize_t taken = device.write(std::exchange(message, {}) + '\n');
      if (taken < 0) {
        if (is_gone(errno) || ++failures >= failures_to_give_up) return;
        (void)device.clear();
      } else if (asks && !fetch_answer(device, line, failures)) {
        return;
      }
    }
  }
}

Pump start_pump(std::shared_ptr<RawDevice> device, std::function<void(RawDevice&, int line)> work) {
  int ends[2];
  if (::socketpair(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0, ends) != 0)
    throw Error(ErrorKind::meter, "no room for another link: " + system_error_text(errno), "");
  Descriptor ours{ends[0]};
  std::promise<void> promise;
  Pump pump{std::move(ours), promise.get_future()};
  // Detached: the kernel may hold it in a call until its time-out, and the tool must not wait for that to end.
  std::thread{[device = std::move(device), work = std::move(work), theirs = Descriptor{ends[1]},
               promise = std::move(promise)]() mutable {
    work(*device, theirs.get());
    device.reset();
    theirs.close();
    promise.set_value();
  }}.detach();
  return pump;
}

void end_pump(Descriptor loop_side, std::future<void>& ended, std::chrono::milliseconds patience) {
  ::shutdown(loop_side.get(), SHUT_WR);
  // Answers still under way must not keep the thread from coming to its end.
  std::array<char, 1024> discarded;
  while (::recv(loop_side.get(), discarded.data(), discarded.size(), MSG_DONTWAIT) > 0) {
  }
  if (ended.valid()) ended.wait_for(patience);
}

}  // namespace switchwright
