// The bench page's door: whatever comes over a connection, as HTTP or as a WebSocket that was let in, the server goes on and
// serves the next one. What is said to it reaches a house that only looks at the JSON.
#include <arpa/inet.h>
#include <poll.h>
#include <sys/socket.h>
#include <unistd.h>

#include <cstdint>
#include <cstdlib>
#include <memory>
#include <nlohmann/json.hpp>
#include <string>
#include <thread>

#include "switchwright/core/loop.hpp"
#include "switchwright/page/server.hpp"

namespace {

using namespace switchwright;
using namespace switchwright::page;

/// A server on a loop and a thread of its own, for the whole run.
struct Served {
  Loop loop;
  std::uint16_t port = 0;
  std::unique_ptr<Server> server;
  std::thread thread;

  Served() {
    House house;
    house.answer = [](const Request& request, const std::function<void(Response)>& reply) {
      Response response;
      response.body = std::make_shared<const std::string>(request.path);
      reply(response);
    };
    house.joined = [](const std::shared_ptr<Client>&) {};
    house.left = [](const std::shared_ptr<Client>&) {};
    house.said = [](const std::shared_ptr<Client>& client, const std::string& text) {
      const auto json = nlohmann::json::parse(text, nullptr, false);
      client->send(
          std::make_shared<const std::string>(json.is_object() ? "{\"type\":\"heard\"}" : "{\"type\":\"refused\"}"));
    };
    ServerSettings settings;
    settings.port = 0;
    server = std::make_unique<Server>(loop, settings, house);
    const std::string url = server->url();
    port = static_cast<std::uint16_t>(std::atoi(url.c_str() + url.rfind(':') + 1));
    if (port == 0) std::abort();
    thread = std::thread([this] { loop.run(); });
    thread.detach();
  }
};

int connected(std::uint16_t port) {
  const int fd = ::socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
  sockaddr_in there{};
  there.sin_family = AF_INET;
  there.sin_port = htons(port);
  there.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
  if (fd < 0 || ::connect(fd, reinterpret_cast<sockaddr*>(&there), sizeof there) != 0) std::abort();
  const linger at_once{1, 0};  // no port waits for a minute
  ::setsockopt(fd, SOL_SOCKET, SO_LINGER, &at_once, sizeof at_once);
  return fd;
}

/// What comes until the other side ends, or has nothing to say for a while.
std::string answer_of(int fd, int patience_ms, const char* until = nullptr) {
  std::string said;
  char block[4096];
  pollfd waiting{fd, POLLIN, 0};
  while (::poll(&waiting, 1, patience_ms) == 1) {
    const ssize_t got = ::recv(fd, block, sizeof block, 0);
    if (got <= 0) break;
    said.append(block, static_cast<std::size_t>(got));
    if (until != nullptr && said.find(until) != std::string::npos) break;
  }
  return said;
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  static Served& served = *new Served;
  if (size == 0) return 0;
  const std::string at = "127.0.0.1:" + std::to_string(served.port);
  const int fd = connected(served.port);
  std::string bytes(reinterpret_cast<const char*>(data) + 1, size - 1);
  if (data[0] % 2 != 0) {
    const std::string hello = "GET /bench HTTP/1.1\r\nHost: " + at + "\r\nOrigin: http://" + at +
                              "\r\nUpgrade: websocket\r\nConnection: Upgrade\r\nSec-WebSocket-Version: 13\r\n"
                              "Sec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ==\r\n\r\n";
    (void)::send(fd, hello.data(), hello.size(), MSG_NOSIGNAL);
    if (answer_of(fd, 2000, "\r\n\r\n").find(" 101 ") == std::string::npos) std::abort();
  } else {
    // A seed names no port; the server's own is put in so that requests get past the gate.
    for (std::size_t place = bytes.find("HOST"); place != std::string::npos;
         place = bytes.find("HOST", place + at.size()))
      bytes.replace(place, 4, at);
  }
  (void)::send(fd, bytes.data(), bytes.size(), MSG_NOSIGNAL);
  ::shutdown(fd, SHUT_WR);
  (void)answer_of(fd, 200);
  ::close(fd);
  // It still serves.
  static std::uint64_t runs = 0;
  if (++runs % 64 == 0) {
    const int next = connected(served.port);
    const std::string ask = "GET / HTTP/1.1\r\nHost: " + at + "\r\nConnection: close\r\n\r\n";
    (void)::send(next, ask.data(), ask.size(), MSG_NOSIGNAL);
    if (answer_of(next, 5000, "\r\n\r\n").find("HTTP/1.1 200") != 0) std::abort();
    ::close(next);
  }
  return 0;
}
