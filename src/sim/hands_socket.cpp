#include "sim/hands_socket.hpp"

#include <stdlib.h>  // mkdtemp
#include <unistd.h>

#include <boost/asio/buffer.hpp>
#include <boost/asio/local/stream_protocol.hpp>
#include <boost/asio/read_until.hpp>
#include <boost/asio/write.hpp>
#include <cstdlib>
#include <deque>

#include "core/loop_io.hpp"
#include "switchwright/core/error.hpp"

namespace switchwright::sim {

namespace asio = boost::asio;
using asio::local::stream_protocol;
using boost::system::error_code;

namespace {

constexpr std::size_t longest_line = 16 * 1024;
constexpr std::size_t longest_socket_path = 107;  // sun_path holds 108 bytes with its zero

/// A fresh directory that only this user can enter (mkdtemp makes it 0700).
std::string private_directory() {
  const char* wanted = std::getenv("TMPDIR");
  std::string pattern = (wanted && *wanted ? std::string{wanted} : std::string{"/tmp"}) + "/switchwright-XXXXXX";
  if (pattern.size() + 6 > longest_socket_path) pattern = "/tmp/switchwright-XXXXXX";
  if (::mkdtemp(pattern.data()) == nullptr)
    throw Error(ErrorKind::meter, "no place for the hands socket: " + system_error_text(errno), pattern,
                "set TMPDIR to a directory you may write to");
  return pattern;
}

}  // namespace

struct HandsSocket::Server : std::enable_shared_from_this<Server> {
  using Asked = std::function<void(std::string, Answer)>;

  /// One connected client.
  struct Client : std::enable_shared_from_this<Client> {
    Client(stream_protocol::socket connected, std::weak_ptr<Server> owner)
        : socket(std::move(connected)), server(std::move(owner)) {}

    void listen() {
      asio::async_read_until(socket, asio::dynamic_buffer(received, longest_line), '\n',
                             [self = shared_from_this()](const error_code& error, std::size_t n) {
                               const auto owner = self->server.lock();
                               if (!owner || !owner->asked) return;
                               if (error == asio::error::not_found) return self->refuse_long_line();
                               if (error) return;
                               std::string line = self->received.substr(0, n - 1);
                               self->received.erase(0, n);
                               if (!line.empty() && line.back() == '\r') line.pop_back();
                               // A client that sends no more (a pipe's end) is still owed its answer.
                               if (!line.empty())
                                 owner->asked(std::move(line),
                                              [self](std::string text) { self->say(std::move(text)); });
                               self->listen();
                             });
    }

    void refuse_long_line() {
      ended = true;
      say(R"({"id":null,"done":false,"reason":"the line is longer than 16 KiB"})");
    }

    void say(std::string text) {
      waiting.push_back(std::move(text) + "\n");
      if (waiting.size() == 1) write();
    }

    void write() {
      asio::async_write(socket, asio::buffer(waiting.front()),
                        [self = shared_from_this()](const error_code& error, std::size_t) {
                          if (error) return;
                          self->waiting.pop_front();
                          if (!self->waiting.empty()) return self->write();
                          if (self->ended) self->socket.close();
                        });
    }

    stream_protocol::socket socket;
    std::weak_ptr<Server> server;
    std::string received;
    std::deque<std::string> waiting;
    bool ended = false;
  };

  Server(Loop& loop, Asked on_asked)
      : acceptor(io_context_of(loop)), asked(std::move(on_asked)), directory(private_directory()) {
    path = directory + "/hands";
    error_code error;
    acceptor.open(stream_protocol{}, error);
    if (!error) acceptor.bind(stream_protocol::endpoint{path}, error);
    if (!error) acceptor.listen(asio::socket_base::max_listen_connections, error);
    if (error) {
      remove();
      throw Error(ErrorKind::meter, "cannot listen for hands: " + error.message(), path,
                  "set TMPDIR to a directory on a local disk");
    }
  }

  void accept() {
    acceptor.async_accept([self = shared_from_this()](const error_code& error, stream_protocol::socket socket) {
      if (!self->asked || error == asio::error::operation_aborted) return;
      if (!error) {
        const auto client = std::make_shared<Client>(std::move(socket), self);
        self->clients.push_back(client);
        std::erase_if(self->clients, [](const auto& gone) { return gone.expired(); });
        client->listen();
      }
      self->accept();
    });
  }

  void close() {
    asked = nullptr;
    error_code ignored;
    acceptor.close(ignored);
    for (const auto& weak : clients)
      if (const auto client = weak.lock()) client->socket.close(ignored);
    remove();
  }

  void remove() const {
    ::unlink(path.c_str());
    ::rmdir(directory.c_str());
  }

  stream_protocol::acceptor acceptor;
  Asked asked;
  std::string directory;
  std::string path;
  std::vector<std::weak_ptr<Client>> clients;
};

HandsSocket::HandsSocket(Loop& loop, std::function<void(std::string line, Answer answer)> asked)
    : server_(std::make_shared<Server>(loop, std::move(asked))) {
  server_->accept();
}

HandsSocket::~HandsSocket() { server_->close(); }

const std::string& HandsSocket::path() const { return server_->path; }

}  // namespace switchwright::sim
