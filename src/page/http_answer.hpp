// The head of every answer: what a browser may do with it, and how long it may keep it.
#pragma once

#include <boost/beast/core/span.hpp>
#include <boost/beast/http.hpp>
#include <string>

#include "page/gate.hpp"
#include "switchwright/page/server.hpp"

namespace switchwright::page {

using HttpRequest = boost::beast::http::request<boost::beast::http::string_body>;

struct AnswerMessage {
  boost::beast::http::response<boost::beast::http::span_body<const char>> message;
  bool with_body = true;  ///< false: the head alone is sent
};

/// A response of 204 with this body hands out the ticket.
constexpr const char* ticket_body = "ticket";

/// A few words for a person.
Response words(int status, std::string text);
/// Empty when it is not there.
std::string header(const HttpRequest& request, boost::beast::http::field field);
/// @param response must outlive the message.
AnswerMessage answer_message(const Gate& gate, const HttpRequest& request, const Response& response, bool close);

}  // namespace switchwright::page
