#include "switchwright/record/sha256.hpp"

#include <openssl/evp.h>

#include <array>

#include "switchwright/core/error.hpp"

namespace switchwright {

std::string sha256_hex(std::string_view bytes) {
  std::array<unsigned char, EVP_MAX_MD_SIZE> digest{};
  unsigned int length = 0;
  if (EVP_Digest(bytes.data(), bytes.size(), digest.data(), &length, EVP_sha256(), nullptr) != 1)
    throw Error(ErrorKind::store, "SHA-256 could not be computed", "OpenSSL",
                "check the OpenSSL installation");
  constexpr char digits[] = "0123456789abcdef";
  std::string hex;
  for (unsigned int i = 0; i < length; ++i) {
    hex += digits[digest[i] >> 4U];
    hex += digits[digest[i] & 0xFU];
  }
  return hex;
}

}  // namespace switchwright
