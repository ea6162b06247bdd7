#include "report/signature.hpp"

#include <openssl/err.h>
#include <openssl/evp.h>
#include <openssl/pem.h>
#include <openssl/x509.h>

#include <cstdlib>
#include <cstring>
#include <fstream>
#include <iterator>

#include "switchwright/core/error.hpp"
#include "switchwright/record/sha256.hpp"

namespace switchwright {

namespace {

struct FreeBio {
  void operator()(BIO* bio) const { BIO_free(bio); }
};
using Bio = std::unique_ptr<BIO, FreeBio>;

struct FreeContext {
  void operator()(EVP_MD_CTX* context) const { EVP_MD_CTX_free(context); }
};
using Context = std::unique_ptr<EVP_MD_CTX, FreeContext>;

constexpr const char* make_one = "make one with: switchwright keys new key.pem";

std::string pem_text(const std::filesystem::path& path) {
  std::ifstream in(path, std::ios::binary);
  if (!in)
    throw Error(ErrorKind::usage, "the key file cannot be read", path.string(),
                "check its name and that you may read it");
  return {std::istreambuf_iterator<char>(in), {}};
}

/// A passphrase is never asked for here: there may be nobody at the terminal. The environment may hold it.
int passphrase_from_environment(char* buffer, int size, int, void*) {
  const char* given = std::getenv(passphrase_variable);
  if (given == nullptr || std::strlen(given) > static_cast<std::size_t>(size)) return -1;
  std::memcpy(buffer, given, std::strlen(given));
  return static_cast<int>(std::strlen(given));
}

std::string bytes_in(BIO* bio) {
  char* data = nullptr;
  const long length = BIO_get_mem_data(bio, &data);
  return {data, static_cast<std::size_t>(length)};
}

const unsigned char* bytes(std::string_view text) { return reinterpret_cast<const unsigned char*>(text.data()); }

[[noreturn]] void library_failed() {
  ERR_clear_error();
  throw Error(ErrorKind::store, "the signature could not be made or checked", "OpenSSL",
              "check the OpenSSL installation");
}

}  // namespace

void SigningKey::Free::operator()(evp_pkey_st* key) const { EVP_PKEY_free(key); }

SigningKey::SigningKey(const std::filesystem::path& pem) {
  const std::string text = pem_text(pem);
  const Bio bio(BIO_new_mem_buf(text.data(), static_cast<int>(text.size())));
  key_.reset(PEM_read_bio_PrivateKey(bio.get(), nullptr, passphrase_from_environment, nullptr));
  ERR_clear_error();
  if (!key_ || EVP_PKEY_id(key_.get()) != EVP_PKEY_ED25519)
    throw Error(ErrorKind::usage,
                key_                                          ? "this key is not an Ed25519 key"
                : text.find("ENCRYPTED") != std::string::npos ? "the passphrase of this key is missing or wrong"
                                                              : "this is no private key in PEM form",
                pem.string(),
                !key_ && text.find("ENCRYPTED") != std::string::npos
                    ? std::string("type it at the terminal, or give it in ") + passphrase_variable
                    : std::string(make_one));
}

std::string SigningKey::sign(std::string_view text) const {
  const Context context(EVP_MD_CTX_new());
  std::string signature(64, '\0');
  std::size_t length = signature.size();
  if (EVP_DigestSignInit(context.get(), nullptr, nullptr, nullptr, key_.get()) != 1 ||
      EVP_DigestSign(context.get(), reinterpret_cast<unsigned char*>(signature.data()), &length, bytes(text),
                     text.size()) != 1)
    library_failed();
  signature.resize(length);
  return signature;
}

std::string SigningKey::public_pem() const {
  const Bio bio(BIO_new(BIO_s_mem()));
  if (PEM_write_bio_PUBKEY(bio.get(), key_.get()) != 1) library_failed();
  return bytes_in(bio.get());
}

VerifyingKey::VerifyingKey(const std::filesystem::path& pem) {
  const std::string text = pem_text(pem);
  const Bio bio(BIO_new_mem_buf(text.data(), static_cast<int>(text.size())));
  key_.reset(PEM_read_bio_PUBKEY(bio.get(), nullptr, passphrase_from_environment, nullptr));
  ERR_clear_error();
  if (!key_ || EVP_PKEY_id(key_.get()) != EVP_PKEY_ED25519)
    throw Error(ErrorKind::usage, "this is no Ed25519 public key in PEM form", pem.string(),
                "take it from the private one with: openssl pkey -in key.pem -pubout");
}

bool VerifyingKey::fits(std::string_view text, std::string_view signature) const {
  const Context context(EVP_MD_CTX_new());
  if (EVP_DigestVerifyInit(context.get(), nullptr, nullptr, nullptr, key_.get()) != 1) library_failed();
  const bool good = EVP_DigestVerify(context.get(), bytes(signature), signature.size(), bytes(text), text.size()) == 1;
  ERR_clear_error();
  return good;
}

std::string VerifyingKey::fingerprint() const {
  const Bio bio(BIO_new(BIO_s_mem()));
  if (i2d_PUBKEY_bio(bio.get(), key_.get()) != 1) library_failed();
  return sha256_hex(bytes_in(bio.get()));
}

}  // namespace switchwright
