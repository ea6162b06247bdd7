// SHA-256 (FIPS 180-4), from OpenSSL.
#pragma once

#include <string>
#include <string_view>

namespace switchwright {

/// 64 lower-case hexadecimal digits, as `sha256sum` prints them.
std::string sha256_hex(std::string_view bytes);

}  // namespace switchwright
