// Who may come in. A page of another site that is open in the same browser can send requests here, and a name that it owns
// can be made to point here; so the Host must be one of ours, and whoever acts must come from a page of ours.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

namespace switchwright::page {

struct Gate {
  bool tls = false;
  std::uint16_t port = 0;
  std::string token;               ///< empty: none is asked for
  std::string ticket;              ///< what a browser holds once it has shown the token; another one in every run
  std::vector<std::string> names;  ///< lower case

  std::string cookie_name() const { return "switchwright-" + std::to_string(port); }
};

/// @param local_address of this end of the connection, as text
bool host_is_ours(const Gate& gate, std::string_view host, std::string_view local_address);
/// The Origin of a page that came from this very host.
bool is_same_origin(const Gate& gate, std::string_view origin, std::string_view host);
/// The ticket is in the Cookie header, or none is needed.
bool has_ticket(const Gate& gate, std::string_view cookies);
/// Takes the same time whatever differs.
bool same_secret(std::string_view a, std::string_view b);
/// 128 bits from the system, hex.
std::string fresh_secret();

}  // namespace switchwright::page
