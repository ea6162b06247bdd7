#include "switchwright/report/keys.hpp"

#include <fcntl.h>
#include <openssl/evp.h>
#include <openssl/pem.h>
#include <unistd.h>

#include <cerrno>
#include <memory>

#include "report/signature.hpp"
#include "switchwright/core/durable_file.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"

namespace switchwright {

namespace {

struct Free {
  void operator()(BIO* bio) const { BIO_free(bio); }
  void operator()(EVP_PKEY* key) const { EVP_PKEY_free(key); }
};

std::string text_in(BIO* bio) {
  char* data = nullptr;
  const long length = BIO_get_mem_data(bio, &data);
  return {data, static_cast<std::size_t>(length)};
}

}  // namespace

std::filesystem::path public_half(const std::filesystem::path& file) {
  std::filesystem::path half = file;
  return half.replace_extension(".pub.pem");
}

std::string make_signing_key(const std::filesystem::path& file, const std::string& passphrase) {
  if (std::filesystem::exists(file) || std::filesystem::exists(public_half(file)))
    throw Error(ErrorKind::usage,
                "there is a key of this name already, and it is not overwritten: bags may be signed with it",
                file.string(), "name another file");
  const std::unique_ptr<EVP_PKEY, Free> key(EVP_PKEY_Q_keygen(nullptr, nullptr, "ED25519"));
  const std::unique_ptr<BIO, Free> secret(BIO_new(BIO_s_mem())), open(BIO_new(BIO_s_mem()));
  const EVP_CIPHER* cipher = passphrase.empty() ? nullptr : EVP_aes_256_cbc();
  const int length = static_cast<int>(passphrase.size());
  if (!key || !secret || !open ||
      PEM_write_bio_PKCS8PrivateKey(secret.get(), key.get(), cipher, passphrase.empty() ? nullptr : passphrase.data(),
                                    length, nullptr, nullptr) != 1 ||
      PEM_write_bio_PUBKEY(open.get(), key.get()) != 1)
    throw Error(ErrorKind::store, "the key could not be made", "OpenSSL", "check the OpenSSL installation");
  // Made with its mode: there is no moment at which somebody else could read it.
  const int descriptor = ::open(file.c_str(), O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, 0600);
  if (descriptor < 0)
    throw Error(ErrorKind::store, "the key cannot be written (" + system_error_text(errno) + ")", file.string(),
                "name a place that you may write");
  const std::string pem = text_in(secret.get());
  const bool written =
      ::write(descriptor, pem.data(), pem.size()) == static_cast<ssize_t>(pem.size()) && ::fsync(descriptor) == 0;
  ::close(descriptor);
  if (!written) {
    std::error_code ignored;
    std::filesystem::remove(file, ignored);
    throw Error(ErrorKind::store, "the key cannot be written whole", file.string(), "free some space");
  }
  write_file_durably(public_half(file).string(), text_in(open.get()));
  return VerifyingKey(public_half(file)).fingerprint();
}

}  // namespace switchwright
