// The meter behind a TCP port of this machine, as a serial server or a bench meter with a socket offers it.
// One client at a time; when it goes, the next is taken.
#include <array>
#include <boost/asio/buffer.hpp>
#include <boost/asio/ip/tcp.hpp>
#include <optional>

#include "core/loop_io.hpp"
#include "sim/wire.hpp"
#include "switchwright/core/error.hpp"

namespace switchwright::sim {

namespace {

namespace asio = boost::asio;
using asio::ip::tcp;
using boost::system::error_code;

struct Server : std::enable_shared_from_this<Server> {
  Server(Loop& loop, Received on_received, Connected on_connected)
      : acceptor(io_context_of(loop)),
        client(io_context_of(loop)),
        received(std::move(on_received)),
        connected(std::move(on_connected)) {
    const tcp::endpoint here{asio::ip::address_v4::loopback(), 0};
    error_code error;
    acceptor.open(here.protocol(), error);
    if (!error) acceptor.bind(here, error);
    if (!error) acceptor.listen(asio::socket_base::max_listen_connections, error);
    if (error)
      throw Error(ErrorKind::meter, "cannot listen on 127.0.0.1: " + error.message(), "simulated meter",
                  "use --link pty");
    name = "tcp:127.0.0.1:" + std::to_string(acceptor.local_endpoint().port());
  }

  void accept() {
    acceptor.async_accept(client, [self = shared_from_this()](const error_code& error) {
      if (!self->received || error == asio::error::operation_aborted) return;
      if (error) return self->next_client();
      error_code ignored;
      self->client.set_option(tcp::no_delay{true}, ignored);
      self->client.non_blocking(true, ignored);
      self->connected();
      self->listen();
    });
  }

  void listen() {
    client.async_read_some(asio::buffer(buffer), [self = shared_from_this()](const error_code& error, std::size_t n) {
      if (!self->received) return;
      if (error) return self->next_client();
      self->received(std::string_view{self->buffer.data(), n});
      if (self->received) self->listen();
    });
  }

  void next_client() {
    error_code ignored;
    client.close(ignored);
    accept();
  }

  void send(std::string_view bytes) {
    if (!client.is_open()) return;
    error_code error;  // a full or dead connection loses the bytes; the pending read notices the death
    client.send(asio::buffer(bytes), MSG_NOSIGNAL, error);
  }

  std::string name;
  tcp::acceptor acceptor;
  tcp::socket client;
  Received received;
  Connected connected;
  std::array<char, 4096> buffer{};
};

class TcpWire final : public Wire {
 public:
  TcpWire(Loop& loop, Received received, Connected connected)
      : server_(std::make_shared<Server>(loop, std::move(received), std::move(connected))) {
    server_->accept();
  }
  ~TcpWire() override {
    server_->received = nullptr;
    error_code ignored;
    server_->acceptor.close(ignored);
    server_->client.close(ignored);
  }
  const std::string& port() const override { return server_->name; }
  void send(std::string_view bytes) override { server_->send(bytes); }

 private:
  std::shared_ptr<Server> server_;
};

}  // namespace

std::unique_ptr<Wire> tcp_wire(Loop& loop, Received received, Connected connected) {
  return std::make_unique<TcpWire>(loop, std::move(received), std::move(connected));
}

}  // namespace switchwright::sim
