#include "switchwright/record/sha256.hpp"

#include <openssl/evp.h>

#include <array>

#include "switchwright/core/error.hpp"

namespace switchwright {

namespace {

void require(int result) {
  if (result != 1)
    throw Error(ErrorKind::store, "SHA-256 could not be computed", "OpenSSL", "check the OpenSSL installation");
}

}  // namespace

struct Sha256::State {
  EVP_MD_CTX* context = EVP_MD_CTX_new();
  ~State() { EVP_MD_CTX_free(context); }
};

Sha256::Sha256() : state_(std::make_unique<State>()) {
  require(state_->context != nullptr ? EVP_DigestInit_ex(state_->context, EVP_sha256(), nullptr) : 0);
}

Sha256::~Sha256() = default;

void Sha256::add(std::string_view bytes) { require(EVP_DigestUpdate(state_->context, bytes.data(), bytes.size())); }

std::string Sha256::hex() {
  std::array<unsigned char, EVP_MAX_MD_SIZE> digest{};
  unsigned int length = 0;
  require(EVP_DigestFinal_ex(state_->context, digest.data(), &length));
  constexpr char digits[] = "0123456789abcdef";
  std::string hex;
  for (unsigned int i = 0; i < length; ++i) {
    hex += digits[digest[i] >> 4U];
    hex += digits[digest[i] & 0xFU];
  }
  return hex;
}

std::string sha256_hex(std::string_view bytes) {
  Sha256 digest;
  digest.add(bytes);
  return digest.hex();
}

}  // namespace switchwright
