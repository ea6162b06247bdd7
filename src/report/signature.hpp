// Ed25519 signatures (RFC 8032), from OpenSSL.
#pragma once

#include <filesystem>
#include <memory>
#include <string>
#include <string_view>

struct evp_pkey_st;

namespace switchwright {

/// The environment variable with the passphrase of an encrypted key.
inline constexpr const char* passphrase_variable = "SWITCHWRIGHT_KEY_PASSPHRASE";

class SigningKey {
 public:
  /// @throws Error(usage) when the file cannot be read or is no Ed25519 private key in PEM form, or its
  /// passphrase is missing or wrong.
  explicit SigningKey(const std::filesystem::path& pem);
  std::string sign(std::string_view bytes) const;  ///< 64 bytes
  std::string public_pem() const;

 private:
  struct Free {
    void operator()(evp_pkey_st* key) const;
  };
  std::unique_ptr<evp_pkey_st, Free> key_;
  friend class VerifyingKey;
};

class VerifyingKey {
 public:
  /// @throws Error(usage) when the file cannot be read or is no Ed25519 public key in PEM form.
  explicit VerifyingKey(const std::filesystem::path& pem);
  bool fits(std::string_view bytes, std::string_view signature) const;
  std::string fingerprint() const;  ///< SHA-256 of the key's DER form (SubjectPublicKeyInfo), hex

 private:
  std::unique_ptr<evp_pkey_st, SigningKey::Free> key_;
};

}  // namespace switchwright
