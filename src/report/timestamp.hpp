// Time stamps (RFC 3161), from OpenSSL: somebody else says that these bytes existed at a time.
#pragma once

#include <filesystem>
#include <optional>
#include <string>
#include <string_view>

#include "switchwright/core/clock.hpp"

namespace switchwright {

/// DER of a request for the SHA-256 of `bytes` that asks for the authority's certificate.
std::string time_stamp_request(std::string_view bytes);

struct TimeStamp {
  std::string problem;  ///< one sentence, when it is none of these bytes; the rest is then empty
  Wall at{};
  std::string by;  ///< subject of the certificate that signed
};
/// @param response DER, as an authority sends it.
/// @param authority certificates (PEM) of which one must vouch for the signer; nothing: the signature is checked with the
/// certificate that came along, which proves nothing about whose it is.
/// @throws Error(usage) when `authority` holds no certificate.
TimeStamp read_time_stamp(const std::string& response, std::string_view bytes,
                          const std::optional<std::filesystem::path>& authority);

}  // namespace switchwright
