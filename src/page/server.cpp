// HTTP and WebSocket with Beast, one coroutine per connection. Bounds stand together at the top: nothing that comes from
// outside is kept, waited for or answered without one.
#include "switchwright/page/server.hpp"

#include <boost/asio/as_tuple.hpp>
#include <boost/asio/awaitable.hpp>
#include <boost/asio/co_spawn.hpp>
#include <boost/asio/detached.hpp>
#include <boost/asio/ip/tcp.hpp>
#include <boost/asio/ssl/context.hpp>
#include <boost/asio/steady_timer.hpp>
#include <boost/asio/use_awaitable.hpp>
#include <boost/beast/core.hpp>
#include <boost/beast/http.hpp>
#include <boost/beast/ssl.hpp>
#include <boost/beast/websocket.hpp>
#include <boost/beast/websocket/ssl.hpp>
#include <optional>
#include <utility>

#include "core/loop_io.hpp"
#include "page/gate.hpp"
#include "page/http_answer.hpp"
#include "page/page_line.hpp"
#include "page/targets.hpp"
#include "switchwright/core/error.hpp"

namespace switchwright::page {

namespace asio = boost::asio;
namespace beast = boost::beast;
namespace http = beast::http;
namespace websocket = beast::websocket;
using asio::ip::tcp;
using boost::system::error_code;

namespace {

constexpr std::size_t most_connections = 96;
constexpr std::size_t most_per_address = 48;
constexpr std::uint32_t longest_header = 8 * 1024;
constexpr std::uint64_t longest_body = 4 * 1024;
constexpr std::size_t longest_message = 16 * 1024;
constexpr std::chrono::seconds request_within{10};  ///< a whole request, from its first byte or the last answer
constexpr std::chrono::seconds answer_within{60};   ///< taken by the other side, and made by ours
constexpr std::chrono::seconds handshake_within{5};
constexpr std::chrono::seconds silent_at_most{20};  ///< a page that answers no ping is gone
constexpr std::chrono::milliseconds after_refused_token{500};

template <class Stream>
constexpr bool is_tls = !std::is_same_v<Stream, beast::tcp_stream>;

}  // namespace

struct Server::Impl : std::enable_shared_from_this<Server::Impl> {
  Impl(Loop& loop, const ServerSettings& given, House the_house)
      : context(io_context_of(loop)),
        acceptor(context),
        tls(asio::ssl::context::tls_server),
        settings(given),
        house(std::move(the_house)) {
    if (settings.tls_cert.empty() != settings.tls_key.empty())
      throw Error(ErrorKind::usage, "TLS needs a certificate and its key",
                  settings.tls_cert.empty() ? "--tls-cert" : "--tls-key", "give both --tls-cert and --tls-key");
    gate.tls = !settings.tls_cert.empty();
    if (gate.tls) set_up_tls();
    gate.token = settings.token;
    gate.ticket = fresh_secret();
    for (std::string name : settings.names) {
      for (char& c : name) c = static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
      gate.names.push_back(name);
    }
    listen();
  }

  void set_up_tls() {
    tls.set_options(asio::ssl::context::default_workarounds | asio::ssl::context::no_sslv2 |
                    asio::ssl::context::no_sslv3 | asio::ssl::context::no_tlsv1 | asio::ssl::context::no_tlsv1_1);
    error_code error;
    tls.use_certificate_chain_file(settings.tls_cert, error);
    if (error)
      throw Error(ErrorKind::usage, "the certificate cannot be used: " + error.message(), settings.tls_cert,
                  "give a PEM file with --tls-cert");
    tls.use_private_key_file(settings.tls_key, asio::ssl::context::pem, error);
    if (error)
      throw Error(ErrorKind::usage, "the key cannot be used: " + error.message(), settings.tls_key,
                  "give the PEM file of the certificate's key with --tls-key");
  }

  void listen() {
    error_code error;
    const auto address = asio::ip::make_address(settings.address, error);
    const std::string where = settings.address + ":" + std::to_string(settings.port);
    if (error)
      throw Error(ErrorKind::usage, "\"" + settings.address + "\" is no address", "--listen",
                  "write it like 127.0.0.1:8737");
    const tcp::endpoint at{address, settings.port};
    acceptor.open(at.protocol(), error);
    if (!error) acceptor.set_option(tcp::acceptor::reuse_address(true), error);
    if (!error) acceptor.bind(at, error);
    if (!error) acceptor.listen(32, error);
    if (error)
      throw Error(
          ErrorKind::meter, "the page cannot be served: " + error.message(), where,
          error == asio::error::address_in_use
              ? "another program is there, perhaps another \"switchwright serve\"; give another port with --listen"
              : "give another address with --listen");
    gate.port = acceptor.local_endpoint().port();
    const bool anywhere = address.is_unspecified();
    std::string name = settings.names.empty() ? (anywhere ? "localhost" : settings.address) : settings.names.front();
    if (name.find(':') != std::string::npos) name = "[" + name + "]";
    url = std::string{gate.tls ? "https://" : "http://"} + name + ":" + std::to_string(gate.port) + "/";
    if (!gate.token.empty()) url += "#token=" + gate.token;
  }

  void accept() {
    acceptor.async_accept([self = shared_from_this()](const error_code& error, tcp::socket socket) {
      if (!self->live) return;
      if (!error) self->take(std::move(socket));
      if (error && error != asio::error::operation_aborted) {
        // No descriptors left, for one: a breath later there may be.
        self->breath.expires_after(std::chrono::milliseconds{100});
        self->breath.async_wait([self](const error_code& gone) {
          if (!gone && self->live) self->accept();
        });
        return;
      }
      self->accept();
    });
  }

  void take(tcp::socket socket);
  template <class Stream>
  asio::awaitable<void> talk(Stream stream);
  template <class Stream>
  asio::awaitable<bool> respond(Stream& stream, const HttpRequest& request, Response response, bool close);
  template <class Stream>
  asio::awaitable<void> converse(Stream stream, HttpRequest request);
  std::optional<Response> refusal(const HttpRequest& request, const std::string& local) const;

  asio::io_context& context;
  tcp::acceptor acceptor;
  asio::steady_timer breath{context};
  asio::ssl::context tls;
  ServerSettings settings;
  House house;
  Gate gate;
  std::string url;
  std::size_t connections = 0;
  std::map<std::string, std::size_t> per_address;
  std::vector<std::weak_ptr<void>> sockets;
  bool live = true;
};

void Server::Impl::take(tcp::socket socket) {
  error_code error;
  const auto peer = socket.remote_endpoint(error);
  if (error) return;
  const std::string from = peer.address().to_string();
  if (connections >= most_connections || per_address[from] >= most_per_address)
    return;  // closed as it goes out of scope
  socket.set_option(tcp::no_delay(true), error);
  ++connections;
  ++per_address[from];
  const auto gone = [self = shared_from_this(), from](const std::exception_ptr&) {
    --self->connections;
    if (--self->per_address[from] == 0) self->per_address.erase(from);
  };
  if (gate.tls)
    asio::co_spawn(context, talk(beast::ssl_stream<beast::tcp_stream>(beast::tcp_stream(std::move(socket)), tls)),
                   gone);
  else
    asio::co_spawn(context, talk(beast::tcp_stream(std::move(socket))), gone);
}

/// What must be true of every request before anything is looked at.
std::optional<Response> Server::Impl::refusal(const HttpRequest& request, const std::string& local) const {
  if (request.count(http::field::host) != 1 || !host_is_ours(gate, header(request, http::field::host), local))
    return words(421, "This is not the host that the page is served under.\n");
  const std::string site = header(request, http::field::sec_fetch_site);
  // A link from elsewhere may open the page, and nothing but the page.
  if (!site.empty() && site != "same-origin" && site != "none" &&
      !(request.target() == "/" && header(request, http::field::sec_fetch_mode) == "navigate"))
    return words(403, "Other sites may not ask for this.\n");
  return std::nullopt;
}

template <class Stream>
asio::awaitable<void> Server::Impl::talk(Stream stream) {
  const auto self = shared_from_this();
  const auto token = asio::as_tuple(asio::use_awaitable);
  if constexpr (is_tls<Stream>) {
    beast::get_lowest_layer(stream).expires_after(handshake_within);
    auto [error] = co_await stream.async_handshake(asio::ssl::stream_base::server, token);
    if (error) co_return;
  }
  error_code no_end;
  const auto local_end = beast::get_lowest_layer(stream).socket().local_endpoint(no_end);
  if (no_end) co_return;
  const std::string local = local_end.address().to_string();
  beast::flat_buffer buffer{longest_header + longest_body};
  while (live) {
    beast::get_lowest_layer(stream).expires_after(request_within);
    http::request_parser<http::string_body> parser;
    parser.header_limit(longest_header);
    parser.body_limit(longest_body);
    auto [error, size] = co_await http::async_read(stream, buffer, parser, token);
    (void)size;
    if (error == http::error::end_of_stream || error == beast::error::timeout) break;
    if (error) {
      // Only what is wrong with the request is answered; a torn connection has nobody to answer to.
      if (error.category() == http::make_error_code(http::error::bad_version).category() &&
          error != http::error::partial_message) {
        const int status = error == http::error::header_limit || error == http::error::buffer_overflow ? 431
                           : error == http::error::body_limit                                          ? 413
                                                                                                       : 400;
        HttpRequest none{http::verb::get, "/", 11};
        co_await respond(stream, none, words(status, "The request cannot be read: " + error.message() + ".\n"), true);
      }
      break;
    }
    auto request = parser.release();
    const bool close = !request.keep_alive();
    if (auto refused = refusal(request, local)) {
      co_await respond(stream, request, std::move(*refused), true);
      break;
    }
    const bool known = has_ticket(gate, header(request, http::field::cookie));
    const auto target = read_target(std::string_view{request.target().data(), request.target().size()});
    if (!target) {
      co_await respond(stream, request, words(400, "This address cannot be read.\n"), true);
      break;
    }
    if (target->path == "/bench") {
      if (!websocket::is_upgrade(request)) {
        if (!co_await respond(stream, request, words(426, "A page talks here by WebSocket.\n"), close)) break;
        continue;
      }
      if (!is_same_origin(gate, header(request, http::field::origin), header(request, http::field::host))) {
        co_await respond(stream, request, words(403, "Only a page of this server may act.\n"), true);
        break;
      }
      if (!known) {
        co_await respond(stream, request, words(401, "The token is missing.\n"), true);
        break;
      }
      co_await converse(std::move(stream), std::move(request));
      co_return;
    }
    if (target->path == "/token" && request.method() == http::verb::post) {
      if (!is_same_origin(gate, header(request, http::field::origin), header(request, http::field::host))) {
        co_await respond(stream, request, words(403, "Only a page of this server may act.\n"), true);
        break;
      }
      const bool right = gate.token.empty() || same_secret(request.body(), gate.token);
      if (!right) {  // guessing takes its time, and a connection of its own each
        asio::steady_timer wait{context, after_refused_token};
        co_await wait.async_wait(token);
      }
      // Made beforehand: g++ 12 destroys a conditional temporary of a co_await expression twice.
      Response told = words(204, ticket_body);
      if (!right) told = words(401, "That is not the token.\n");
      if (!co_await respond(stream, request, std::move(told), close || !right)) break;
      continue;
    }
    if (request.method() != http::verb::get && request.method() != http::verb::head) {
      if (!co_await respond(stream, request, words(405, "Only GET and HEAD are answered.\n"), true)) break;
      continue;
    }
    if (!known && !is_static(target->path)) {
      if (!co_await respond(stream, request, words(401, "The token is missing.\n"), close)) break;
      continue;
    }
    // The answer may be made elsewhere; this connection sleeps meanwhile and holds nothing up.
    beast::get_lowest_layer(stream).expires_never();
    struct Pending {
      explicit Pending(asio::io_context& context) : ready(context, answer_within) {}
      asio::steady_timer ready;
      std::optional<Response> made;
      bool over = false;
    };
    const auto pending = std::make_shared<Pending>(context);
    house.answer({target->path, target->query}, [pending](Response response) {
      if (std::exchange(pending->over, true)) return;
      pending->made = std::move(response);
      pending->ready.cancel();
    });
    if (!pending->made) co_await pending->ready.async_wait(token);
    pending->over = true;  // whoever answers later answers nobody
    Response response =
        pending->made ? std::move(*pending->made) : words(503, "This takes too long just now; try again.\n");
    if (!co_await respond(stream, request, std::move(response), close)) break;
  }
  error_code ignored;
  beast::get_lowest_layer(stream).socket().shutdown(tcp::socket::shutdown_send, ignored);
}

/// @returns whether the connection goes on.
template <class Stream>
asio::awaitable<bool> Server::Impl::respond(Stream& stream, const HttpRequest& request, Response response, bool close) {
  AnswerMessage answer = answer_message(gate, request, response, close);
  beast::get_lowest_layer(stream).expires_after(answer_within);
  http::response_serializer<http::span_body<const char>> serializer{answer.message};
  const auto token = asio::as_tuple(asio::use_awaitable);
  auto [error, size] = answer.with_body ? co_await http::async_write(stream, serializer, token)
                                        : co_await http::async_write_header(stream, serializer, token);
  (void)size;
  co_return !error && !close;
}

template <class Stream>
asio::awaitable<void> Server::Impl::converse(Stream stream, HttpRequest request) {
  beast::get_lowest_layer(stream).expires_never();  // the WebSocket has its own clock
  const auto token = asio::as_tuple(asio::use_awaitable);
  const auto page = std::make_shared<Page<Stream>>(std::move(stream));
  auto& ws = page->ws;
  ws.set_option(websocket::stream_base::timeout{handshake_within, silent_at_most, true});
  ws.read_message_max(longest_message);
  ws.auto_fragment(false);
  ws.text(true);
  ws.control_callback([weak = std::weak_ptr{page}](websocket::frame_type, beast::string_view) {
    if (const auto self = weak.lock(); self && !self->allowance.take()) self->put_out();
  });
  {
    auto [error] = co_await ws.async_accept(request, token);
    if (error) co_return;
  }
  sockets.push_back(page);
  std::erase_if(sockets, [](const auto& weak) { return weak.expired(); });
  house.joined(page);
  beast::flat_buffer buffer{longest_message};
  while (live && !page->out()) {
    auto [error, size] = co_await ws.async_read(buffer, token);
    (void)size;
    if (error || page->out() || !live) break;
    if (!page->allowance.take() || !ws.got_text()) {
      auto [ignored] = co_await ws.async_close(
          ws.got_text() ? websocket::close_code::policy_error : websocket::close_code::unknown_data, token);
      (void)ignored;
      break;
    }
    const std::string text = beast::buffers_to_string(buffer.data());
    buffer.consume(buffer.size());
    house.said(page, text);
  }
  page->put_out();
  if (live) house.left(page);
}

Server::Server(Loop& loop, const ServerSettings& settings, House house)
    : impl_(std::make_shared<Impl>(loop, settings, std::move(house))) {
  impl_->accept();
}

Server::~Server() {
  impl_->live = false;
  error_code ignored;
  impl_->acceptor.close(ignored);
  impl_->breath.cancel();
}

const std::string& Server::url() const { return impl_->url; }

}  // namespace switchwright::page
