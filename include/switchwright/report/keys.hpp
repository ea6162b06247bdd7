// The key that signs bags: Ed25519 (RFC 8032), in PEM form, made once per bench.
#pragma once

#include <filesystem>
#include <string>

namespace switchwright {

/// Makes a key, readable by its owner alone, and its public half beside it (the same name with .pub.pem in the place of .pem).
/// @param passphrase encrypts it (PKCS #8, AES-256); empty: not encrypted
/// @returns the fingerprint: SHA-256 of the public key's DER form, hex.
/// @throws Error(usage) when there is a file of that name already; Error(store) when it cannot be written.
std::string make_signing_key(const std::filesystem::path& file, const std::string& passphrase);
/// Where make_signing_key() puts the public half.
std::filesystem::path public_half(const std::filesystem::path& file);

}  // namespace switchwright
