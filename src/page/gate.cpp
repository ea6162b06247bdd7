#include "page/gate.hpp"

#include <openssl/crypto.h>
#include <openssl/rand.h>

#include <algorithm>
#include <array>
#include <cctype>
#include <stdexcept>

namespace switchwright::page {

namespace {

std::string lower(std::string_view text) {
  std::string out{text};
  for (char& c : out) c = static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
  return out;
}

struct NameAndPort {
  std::string name;  ///< without the brackets of an IPv6 address
  std::string port;
};

NameAndPort split(std::string_view host) {
  if (host.starts_with('[')) {
    const auto close = host.find(']');
    if (close == std::string_view::npos) return {};
    const auto rest = host.substr(close + 1);
    return {lower(host.substr(1, close - 1)), rest.starts_with(':') ? std::string{rest.substr(1)} : std::string{}};
  }
  const auto colon = host.find(':');
  if (colon == std::string_view::npos) return {lower(host), ""};
  return {lower(host.substr(0, colon)), std::string{host.substr(colon + 1)}};
}

}  // namespace

bool host_is_ours(const Gate& gate, std::string_view host, std::string_view local_address) {
  const auto [name, port] = split(host);
  const std::string expected = std::to_string(gate.port);
  const std::string usual = gate.tls ? "443" : "80";
  if (name.empty() || !(port == expected || (port.empty() && expected == usual))) return false;
  const bool here =
      local_address == "::1" || local_address.starts_with("127.") || local_address.starts_with("::ffff:127.");
  if (here && (name == "localhost" || name == "127.0.0.1" || name == "::1")) return true;
  std::string address{local_address};
  if (address.starts_with("::ffff:")) address.erase(0, 7);  // IPv4 on a socket of both kinds
  return name == lower(address) || std::find(gate.names.begin(), gate.names.end(), name) != gate.names.end();
}

bool is_same_origin(const Gate& gate, std::string_view origin, std::string_view host) {
  return lower(origin) == lower(std::string{gate.tls ? "https://" : "http://"} + std::string{host});
}

bool has_ticket(const Gate& gate, std::string_view cookies) {
  if (gate.token.empty()) return true;
  const std::string name = gate.cookie_name() + "=";
  while (!cookies.empty()) {
    const auto end = std::min(cookies.find(';'), cookies.size());
    std::string_view one = cookies.substr(0, end);
    cookies.remove_prefix(std::min(end + 1, cookies.size()));
    while (one.starts_with(' ')) one.remove_prefix(1);
    if (one.starts_with(name) && same_secret(one.substr(name.size()), gate.ticket)) return true;
  }
  return false;
}

bool same_secret(std::string_view a, std::string_view b) {
  return a.size() == b.size() && CRYPTO_memcmp(a.data(), b.data(), a.size()) == 0;
}

std::string fresh_secret() {
  std::array<unsigned char, 16> bytes{};
  if (RAND_bytes(bytes.data(), static_cast<int>(bytes.size())) != 1)
    throw std::runtime_error("the system gives no random bytes");
  static constexpr char digits[] = "0123456789abcdef";
  std::string text;
  for (const unsigned char byte : bytes) {
    text += digits[byte >> 4];
    text += digits[byte & 15];
  }
  return text;
}

}  // namespace switchwright::page
