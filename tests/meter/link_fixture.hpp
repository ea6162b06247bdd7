// Real pseudo-terminals and sockets for the link tests, a tiny decoder, and a loop that runs until something
// happened.
#pragma once

#include <arpa/inet.h>
#include <doctest/doctest.h>
#include <fcntl.h>
#include <pty.h>
#include <sys/socket.h>
#include <termios.h>
#include <unistd.h>

#include <charconv>
#include <filesystem>
#include <functional>
#include <string>
#include <vector>

#include "core/descriptor.hpp"
#include "meter/link/link_meter.hpp"
#include "switchwright/core/error.hpp"

namespace switchwright::link_test {

/// Speaks "12.5 LF". Anything else on a line is rejected.
class LineDecoder final : public Decoder {
 public:
  void feed(std::string_view bytes, Instant at, std::vector<Reading>& out) override {
    for (const char c : bytes) {
      if (c != '\n') {
        line_ += c;
        continue;
      }
      if (!line_.empty() && line_.back() == '\r') line_.pop_back();
      Reading reading;
      const auto [end, error] = std::from_chars(line_.data(), line_.data() + line_.size(), reading.value);
      if (error == std::errc{} && end == line_.data() + line_.size()) {
        reading.quantity = quantity_;
        reading.at = at;
        reading.raw = line_;
        out.push_back(reading);
        ++counts_.accepted;
      } else if (!line_.empty()) {
        ++counts_.rejected["not a number"];
      }
      line_.clear();
    }
  }
  void reset() override { line_.clear(); }
  void selected(Quantity quantity) override { quantity_ = quantity; }

 private:
  std::string line_;
  Quantity quantity_ = Quantity::resistance;
};

inline void write_all(int fd, std::string_view bytes) {
  REQUIRE(::write(fd, bytes.data(), bytes.size()) == static_cast<ssize_t>(bytes.size()));
}

/// What is there to read now.
inline std::string read_now(int fd) {
  char buffer[512];
  const ssize_t count = ::read(fd, buffer, sizeof buffer);
  return count > 0 ? std::string(buffer, static_cast<std::size_t>(count)) : std::string{};
}

/// The meter's end of a pseudo-terminal, raw before anybody hears its name; holds the other end open as a
/// real cable does.
class FakeCable {
 public:
  FakeCable() { plug(); }
  explicit FakeCable(const std::string& alias) : alias_(alias) { plug(); }
  ~FakeCable() { unplug(); }
  FakeCable(const FakeCable&) = delete;
  FakeCable& operator=(const FakeCable&) = delete;

  void plug() {
    int master = -1;
    int slave = -1;
    char name[128];
    REQUIRE(::openpty(&master, &slave, name, nullptr, nullptr) == 0);
    termios raw{};
    ::tcgetattr(slave, &raw);
    ::cfmakeraw(&raw);
    ::tcsetattr(slave, TCSANOW, &raw);
    ::fcntl(master, F_SETFL, O_NONBLOCK);
    master_ = Descriptor{master};
    slave_ = Descriptor{slave};
    device_ = name;
    if (!alias_.empty()) {
      std::filesystem::remove(alias_);
      std::filesystem::create_symlink(device_, alias_);
    }
  }
  void unplug() {
    if (!alias_.empty()) std::filesystem::remove(alias_);
    slave_.close();
    master_.close();
  }

  const std::string& path() const { return alias_.empty() ? device_ : alias_; }
  int fd() const { return master_.get(); }
  int other_end() const { return slave_.get(); }
  void send(std::string_view bytes) const { write_all(fd(), bytes); }
  std::string heard() const { return read_now(fd()); }

 private:
  std::string alias_;
  std::string device_;
  Descriptor master_;
  Descriptor slave_;
};

/// Listens on a loopback port of the system's choice.
class FakeServer {
 public:
  FakeServer() {
    listener_ = Descriptor{::socket(AF_INET, SOCK_STREAM | SOCK_NONBLOCK | SOCK_CLOEXEC, 0)};
    sockaddr_in at{};
    at.sin_family = AF_INET;
    at.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
    socklen_t size = sizeof at;
    REQUIRE(::bind(listener_.get(), reinterpret_cast<sockaddr*>(&at), size) == 0);
    REQUIRE(::listen(listener_.get(), 4) == 0);
    REQUIRE(::getsockname(listener_.get(), reinterpret_cast<sockaddr*>(&at), &size) == 0);
    number_ = ntohs(at.sin_port);
  }
  int number() const { return number_; }
  std::string port(const std::string& scheme = "tcp") const { return scheme + ":127.0.0.1:" + std::to_string(number_); }
  bool accept() {
    if (const int fd = ::accept4(listener_.get(), nullptr, nullptr, SOCK_NONBLOCK | SOCK_CLOEXEC); fd >= 0)
      peer_ = Descriptor{fd};
    return static_cast<bool>(peer_);
  }
  void send(std::string_view bytes) const { write_all(peer_.get(), bytes); }
  std::string heard() const { return peer_ ? read_now(peer_.get()) : std::string{}; }
  void hang_up() { peer_.close(); }
  void stop_listening() { listener_.close(); }

 private:
  Descriptor listener_;
  Descriptor peer_;
  int number_ = 0;
};

/// A meter on a link, and all that it said.
struct Bench {
  Loop loop;
  SystemClock clock;
  std::vector<Reading> readings;
  std::vector<LinkChange> changes;
  std::string bytes;
  std::unique_ptr<Meter> meter;

  ~Bench() { meter.reset(); }

  void open(const MeterDefinition& definition, const std::string& port) {
    meter = open_link_meter(loop, clock, definition, port, std::make_unique<LineDecoder>(), callbacks());
  }
  MeterCallbacks callbacks() {
    return {[this](const Reading& reading) { readings.push_back(reading); },
            [this](const LinkChange& change) { changes.push_back(change); },
            [this](std::string_view more, Instant) { bytes += more; }};
  }
  /// Runs the loop until `happened`, at most two seconds; `meanwhile` is the other side's turn.
  bool until(std::function<bool()> happened, std::function<void()> meanwhile = {}) {
    const auto give_up = std::chrono::steady_clock::now() + std::chrono::seconds{2};
    bool done = false;
    Loop::Timer tick;
    std::function<void()> turn = [&] {
      if (meanwhile) meanwhile();
      done = happened();
      if (done || std::chrono::steady_clock::now() > give_up) return loop.stop();
      tick = loop.after(std::chrono::milliseconds{1}, turn);
    };
    loop.post(turn);
    loop.run();
    return done;
  }
  void run_for(std::chrono::milliseconds time) {
    const auto end = std::chrono::steady_clock::now() + time;
    until([end] { return std::chrono::steady_clock::now() >= end; });
  }
  bool saw(LinkState state) const {
    for (const LinkChange& change : changes)
      if (change.state == state) return true;
    return false;
  }
  std::string detail_of(LinkState state) const {
    for (auto change = changes.rbegin(); change != changes.rend(); ++change)
      if (change->state == state) return change->detail;
    return {};
  }
  bool until_state(LinkState state) {
    return until([this, state] { return !changes.empty() && changes.back().state == state; });
  }
  std::vector<double> values() const {
    std::vector<double> all;
    for (const Reading& reading : readings) all.push_back(reading.value);
    return all;
  }
};

inline MeterDefinition streaming_meter() {
  MeterDefinition definition;
  definition.id = "text-line";
  definition.decoder.kind = "text-line";
  definition.link.silent_after_s = 0.15;
  return definition;
}

/// The error that `call` throws; fails when it throws none.
template <typename Call>
Error error_of(Call call) {
  try {
    call();
  } catch (const Error& error) {
    return error;
  }
  FAIL("nothing was thrown");
  throw 0;
}

inline bool contains(const std::string& text, const std::string& part) { return text.find(part) != std::string::npos; }

}  // namespace switchwright::link_test
