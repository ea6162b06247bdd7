#include "page/http_answer.hpp"

#include <utility>

namespace switchwright::page {

namespace beast = boost::beast;
namespace http = beast::http;

Response words(int status, std::string text) {
  Response response;
  response.status = status;
  response.body = std::make_shared<const std::string>(std::move(text));
  return response;
}

std::string header(const HttpRequest& request, http::field field) {
  const auto found = request.find(field);
  return found == request.end() ? std::string{} : std::string{found->value()};
}

AnswerMessage answer_message(const Gate& gate, const HttpRequest& request, const Response& response, bool close) {
  const bool ticket = response.status == 204 && *response.body == ticket_body;
  const std::string wanted = header(request, http::field::if_none_match);
  const bool same = response.status == 200 && !response.etag.empty() && wanted == response.etag;
  AnswerMessage answer;
  auto& message = answer.message;
  message.version(11);
  message.result(same ? 304U : static_cast<unsigned>(response.status));
  answer.with_body = !same && !ticket && request.method() != http::verb::head;
  const std::string host = header(request, http::field::host);
  const std::string socket = (gate.tls ? "wss://" : "ws://") + host;
  message.set(
      "Content-Security-Policy",
      response.report
          ? "default-src 'none'; style-src 'unsafe-inline'; img-src data:; base-uri 'none'; form-action 'none'; "
            "frame-ancestors 'none'; sandbox"
          : "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; connect-src 'self'" +
                (host.find_first_of(" ;,'\"") == std::string::npos ? " " + socket : std::string{}) +
                "; base-uri 'none'; form-action 'none'; frame-ancestors 'none'");
  message.set("X-Content-Type-Options", "nosniff");
  message.set("X-Frame-Options", "DENY");
  message.set("Referrer-Policy", "no-referrer");
  message.set("Cross-Origin-Opener-Policy", "same-origin");
  message.set("Cross-Origin-Resource-Policy", "same-origin");
  message.set("Permissions-Policy", "camera=(), microphone=(), geolocation=(), usb=(), serial=()");
  if (!same && !ticket) message.set(http::field::content_type, response.type);
  if (!response.file_name.empty())
    message.set(http::field::content_disposition, "attachment; filename=\"" + response.file_name + "\"");
  message.set(http::field::cache_control, response.etag.empty() ? "no-store" : "no-cache");
  if (!response.etag.empty()) message.set(http::field::etag, response.etag);
  if (response.status == 405) message.set(http::field::allow, "GET, HEAD");
  if (ticket && !gate.token.empty())
    message.set(http::field::set_cookie, gate.cookie_name() + "=" + gate.ticket +
                                             "; Path=/; HttpOnly; SameSite=Strict" + (gate.tls ? "; Secure" : ""));
  message.keep_alive(!close);
  if (!ticket && !same) message.content_length(response.body->size());
  if (answer.with_body) message.body() = beast::span<const char>{response.body->data(), response.body->size()};
  return answer;
}

}  // namespace switchwright::page
