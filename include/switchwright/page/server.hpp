// The bench page's door to the network: HTTP and WebSocket on the loop that also listens to the meter. It knows who may
// come in and how much anybody may send; what is served it is told. Whoever is slow, silent or rude is put out, and nobody
// waits for them.
#pragma once

#include <cstdint>
#include <functional>
#include <map>
#include <memory>
#include <string>
#include <vector>

#include "switchwright/core/loop.hpp"

namespace switchwright::page {

struct Request {
  std::string path;  ///< decoded, without the query
  std::map<std::string, std::string> query;
};

struct Response {
  int status = 200;
  std::string type = "text/plain; charset=utf-8";
  std::shared_ptr<const std::string> body = std::make_shared<const std::string>();
  std::string file_name{};  ///< to be saved under this name; empty: to be shown
  std::string etag{};       ///< kept by the browser until this changes; empty: kept by nobody
  bool report = false;      ///< a document of its own: styles in it, and nothing else
};

/// One page that is open. Thread rule: the loop's.
class Client {
 public:
  virtual ~Client() = default;
  /// In order. A client that does not take what it is sent is put out.
  virtual void send(std::shared_ptr<const std::string> text) = 0;
  /// Takes the place of a text of the same slot that is not on its way yet: of readings only the newest matters.
  virtual void send_latest(int slot, std::shared_ptr<const std::string> text) = 0;
};

/// What is behind the door. Every function is called from the loop.
struct House {
  /// `reply` is called once, now or later, from the loop.
  std::function<void(const Request&, std::function<void(Response)> reply)> answer;
  std::function<void(const std::shared_ptr<Client>&)> joined;
  std::function<void(const std::shared_ptr<Client>&, const std::string& text)> said;
  std::function<void(const std::shared_ptr<Client>&)> left;
};

struct ServerSettings {
  std::string address = "127.0.0.1";
  std::uint16_t port = 8737;  ///< 0: any that is free
  std::string token{};        ///< asked for when it is not empty; needed where others can reach the address
  std::string tls_cert{};     ///< PEM files; both or none
  std::string tls_key{};
  std::vector<std::string> names{};  ///< host names that the page is reached by, beside the address
};

/// "127.0.0.1:8737", "[::1]:0". @throws Error(usage).
void read_listen(const std::string& text, ServerSettings& settings);
/// 128 bits from the system, hex.
std::string fresh_token();
/// Only this computer can reach it.
bool is_loopback(const std::string& address);

/// Thread rule: lives on the loop's thread.
class Server {
 public:
  /// @throws Error(usage) when the settings do not fit together, Error(meter) when the address cannot be listened at.
  Server(Loop& loop, const ServerSettings& settings, House house);
  ~Server();
  Server(const Server&) = delete;
  Server& operator=(const Server&) = delete;

  /// What to open in a browser, the token in it.
  const std::string& url() const;

 private:
  struct Impl;
  std::shared_ptr<Impl> impl_;
};

}  // namespace switchwright::page
