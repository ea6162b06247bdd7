// A meter behind a TCP port. A peer that vanished without a word (half-open) is found by the kernel's
// keep-alive and by the watchdog on valid frames.
#include <fmt/format.h>
#include <netinet/in.h>
#include <netinet/tcp.h>
#include <sys/socket.h>

#include <boost/asio/co_spawn.hpp>
#include <boost/asio/connect.hpp>
#include <boost/asio/ip/tcp.hpp>
#include <boost/asio/redirect_error.hpp>
#include <boost/asio/steady_timer.hpp>
#include <boost/asio/use_awaitable.hpp>

#include "meter/link/endpoint.hpp"
#include "meter/link/tcp_endpoint.hpp"
#include "switchwright/core/error.hpp"

namespace switchwright {

namespace asio = boost::asio;
using asio::ip::tcp;

namespace {

constexpr std::chrono::seconds connect_timeout{3};

/// Asks the kernel to notice within about ten seconds that the peer is gone.
void keep_watch(int fd) {
  const auto set = [fd](int level, int option, int value) { ::setsockopt(fd, level, option, &value, sizeof value); };
  set(IPPROTO_TCP, TCP_NODELAY, 1);
  set(SOL_SOCKET, SO_KEEPALIVE, 1);
  set(IPPROTO_TCP, TCP_KEEPIDLE, 4);
  set(IPPROTO_TCP, TCP_KEEPINTVL, 2);
  set(IPPROTO_TCP, TCP_KEEPCNT, 3);
  set(IPPROTO_TCP, TCP_USER_TIMEOUT, 10'000);
}

}  // namespace

struct TcpEndpoint::Attempt {
  explicit Attempt(asio::io_context& context) : resolver(context), socket(context), timer(context) {}
  void end() {
    boost::system::error_code ignored;
    resolver.cancel();
    socket.close(ignored);
    timer.cancel();
  }
  tcp::resolver resolver;
  tcp::socket socket;
  asio::steady_timer timer;
  bool timed_out = false;
};

TcpEndpoint::TcpEndpoint(asio::io_context& context, std::string port)
    : context_(context), name_(std::move(port)), at_(split_host_and_port(name_)) {}

TcpEndpoint::~TcpEndpoint() = default;

asio::awaitable<Descriptor> TcpEndpoint::connect(asio::io_context& context) {
  const auto attempt = std::make_shared<Attempt>(context);
  attempt_ = attempt;
  attempt->timer.expires_after(connect_timeout);
  attempt->timer.async_wait([attempt](const boost::system::error_code& error) {
    if (error) return;
    attempt->timed_out = true;
    attempt->end();
  });
  boost::system::error_code error;
  const auto found =
      co_await attempt->resolver.async_resolve(at_.host, at_.service, asio::redirect_error(asio::use_awaitable, error));
  if (error && !attempt->timed_out)
    throw Error(ErrorKind::meter, fmt::format("no machine is known by the name \"{}\"", at_.host), name_,
                "check the spelling of the host, or write its number");
  if (!error) co_await asio::async_connect(attempt->socket, found, asio::redirect_error(asio::use_awaitable, error));
  attempt->timer.cancel();
  if (attempt->timed_out)
    throw Error(ErrorKind::meter, fmt::format("no answer within {} s", connect_timeout.count()), name_,
                "check that the meter or its server is on and on this network");
  if (error == asio::error::connection_refused)
    throw Error(ErrorKind::meter, "the machine is there but nothing listens on this port", name_,
                "start the server or check the port number");
  if (error)
    throw Error(ErrorKind::meter, "cannot connect: " + error.message(), name_, "check the network and the address");
  keep_watch(attempt->socket.native_handle());
  co_return Descriptor{attempt->socket.release()};
}

Descriptor TcpEndpoint::open() {
  asio::io_context context{1};
  Descriptor fd;
  std::exception_ptr failed;
  asio::co_spawn(context, connect(context), [&](std::exception_ptr error, Descriptor connected) {
    failed = error;
    fd = std::move(connected);
  });
  context.run();
  attempt_.reset();
  if (failed) std::rethrow_exception(failed);
  return fd;
}

asio::awaitable<Descriptor> TcpEndpoint::reopen() { return connect(context_); }

void TcpEndpoint::cancel() {
  if (const auto attempt = attempt_.lock()) attempt->end();
}

void TcpEndpoint::hang_up(Descriptor fd) {
  // Unread bytes would turn the close into a reset, and the peer would lose the stop commands.
  ::shutdown(fd.get(), SHUT_WR);
  char discarded[1024];
  for (int i = 0; i < 64 && ::recv(fd.get(), discarded, sizeof discarded, MSG_DONTWAIT) > 0; ++i) {
  }
}

std::string TcpEndpoint::loss_advice() const { return "check that the meter or its server is on"; }

std::string TcpEndpoint::silence_advice() const {
  return "check that the meter is on and connected to the server at this address";
}

HostAndPort split_host_and_port(const std::string& port) {
  const auto scheme = port.find(':');
  const auto last = port.rfind(':');
  HostAndPort at;
  if (last != scheme) {
    at.host = port.substr(scheme + 1, last - scheme - 1);
    at.service = port.substr(last + 1);
    if (at.host.size() > 2 && at.host.front() == '[' && at.host.back() == ']')
      at.host = at.host.substr(1, at.host.size() - 2);
  }
  int number = 0;
  for (const char c : at.service) number = c >= '0' && c <= '9' && number <= 65535 ? number * 10 + (c - '0') : 65536;
  if (at.host.empty() || at.service.empty() || number < 1 || number > 65535)
    throw Error(ErrorKind::usage, "this is not an address of the form HOST:PORT", port,
                "write it like " + port.substr(0, scheme) + ":192.168.1.20:5025");
  return at;
}

std::unique_ptr<Endpoint> make_tcp_endpoint(asio::io_context& context, const std::string& port) {
  return std::make_unique<TcpEndpoint>(context, port);
}

std::unique_ptr<Endpoint> make_endpoint(asio::io_context& context, const std::string& port,
                                        const LinkSettings& settings) {
  if (port.empty())
    throw Error(
        ErrorKind::usage, "no port is named", "",
        "give a device path, tcp:HOST:PORT, rfc2217:HOST:PORT, hid:PATH, usbtmc:PATH or replay:FILE; `switchwright ports` "
        "lists the devices");
  if (port.starts_with("tcp:")) return make_tcp_endpoint(context, port);
  if (port.starts_with("rfc2217:")) return make_serial_server_endpoint(context, port, settings);
  return make_serial_endpoint(port, settings);
}

}  // namespace switchwright
