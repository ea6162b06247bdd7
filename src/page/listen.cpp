// Where to listen, in words.
#include <boost/asio/ip/address.hpp>
#include <charconv>

#include "page/gate.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/page/server.hpp"

namespace switchwright::page {

namespace asio = boost::asio;
using boost::system::error_code;

void read_listen(const std::string& text, ServerSettings& settings) {
  const auto colon = text.rfind(':');
  const char* how = "write it like 127.0.0.1:8737";
  if (colon == std::string::npos || colon == 0)
    throw Error(ErrorKind::usage, "\"" + terminal_safe(text) + "\" is no address with a port", "--listen", how);
  std::string address = text.substr(0, colon);
  if (address.starts_with('[') && address.ends_with(']')) address = address.substr(1, address.size() - 2);
  if (address == "localhost") address = "127.0.0.1";
  unsigned port = 0;
  const char* const end = text.data() + text.size();
  const auto [stopped, trouble] = std::from_chars(text.data() + colon + 1, end, port);
  error_code error;
  (void)asio::ip::make_address(address, error);
  if (error || trouble != std::errc{} || stopped != end || port > 65535)
    throw Error(ErrorKind::usage, "\"" + terminal_safe(text) + "\" is no address with a port", "--listen", how);
  settings.address = address;
  settings.port = static_cast<std::uint16_t>(port);
}

std::string fresh_token() { return fresh_secret(); }

bool is_loopback(const std::string& address) {
  error_code error;
  const auto parsed = asio::ip::make_address(address, error);
  return !error && parsed.is_loopback();
}

}  // namespace switchwright::page
