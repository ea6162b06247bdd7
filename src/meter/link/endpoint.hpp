// Where a meter is plugged in: a serial device, a TCP port, a serial server. Every kind gives an open
// descriptor that is read and written the same way; what differs (how to open it, how to find it again, how
// to hang up, bytes that belong to the link and not to the meter) is behind this interface.
#pragma once

#include <boost/asio/awaitable.hpp>
#include <boost/asio/io_context.hpp>
#include <chrono>
#include <memory>
#include <string>
#include <string_view>

#include "core/descriptor.hpp"
#include "switchwright/meter/definition.hpp"

namespace switchwright {

/// Thread rule: lives on the loop's thread.
class Endpoint {
 public:
  virtual ~Endpoint() = default;

  /// First opening; may block for a few seconds. @throws Error.
  virtual Descriptor open() = 0;
  /// One try to open it again, wherever it is now; never blocks the loop. @throws Error(meter) when it is not
  /// there.
  virtual boost::asio::awaitable<Descriptor> reopen() = 0;
  /// How far apart the tries to open it again become at most.
  virtual std::chrono::milliseconds slowest_retry() const { return std::chrono::milliseconds{1000}; }
  /// Ends a reopen() under way.
  virtual void cancel() {}

  /// What the user knows it by now ("/dev/ttyUSB1" after it came back under another name).
  virtual const std::string& name() const = 0;
  /// How long after opening the line is not to be trusted; what came until then is discarded.
  virtual std::chrono::milliseconds settle_time() const { return std::chrono::milliseconds{0}; }
  virtual void discard_input(int) {}
  /// Asked when the meter is silent: is the device gone without a word?
  virtual bool gone(int) { return false; }
  /// Asked after end-of-file or a read error: was that a false alarm?
  virtual bool still_there(int) { return false; }
  virtual void hang_up(Descriptor fd) = 0;
  /// What a person can do about a lost link.
  virtual std::string loss_advice() const = 0;
  /// What to look at when nothing arrives at all.
  virtual std::string silence_advice() const = 0;

  /// Bytes to send right after opening.
  virtual std::string greeting() { return {}; }
  /// Takes what arrived, returns what of it is the meter's, and appends to `reply` what the link itself must
  /// answer.
  virtual std::string receive(std::string_view bytes, std::string& reply) {
    (void)reply;
    return std::string{bytes};
  }
  /// Something about the link that the user must know, once; mostly empty.
  virtual std::string complaint() { return {}; }
  virtual std::string encode(std::string_view bytes) { return std::string{bytes}; }
};

std::unique_ptr<Endpoint> make_serial_endpoint(const std::string& path, const LinkSettings& settings);
std::unique_ptr<Endpoint> make_tcp_endpoint(boost::asio::io_context& context, const std::string& port);
std::unique_ptr<Endpoint> make_serial_server_endpoint(boost::asio::io_context& context, const std::string& port,
                                                      const LinkSettings& settings);
/// `port` is a device path, rfc2217:HOST:PORT or tcp:HOST:PORT. @throws Error(usage) for a spelling that is
/// neither.
std::unique_ptr<Endpoint> make_endpoint(boost::asio::io_context& context, const std::string& port,
                                        const LinkSettings& settings);

struct HostAndPort {
  std::string host;
  std::string service;
};
/// Splits tcp:HOST:PORT (or another scheme; HOST may be [::1]). @throws Error(usage).
HostAndPort split_host_and_port(const std::string& port);

}  // namespace switchwright
