#include "report/timestamp.hpp"

#include <openssl/err.h>
#include <openssl/evp.h>
#include <openssl/objects.h>
#include <openssl/ts.h>
#include <openssl/x509.h>

#include <memory>

#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"

namespace switchwright {

namespace {

template <auto free_it>
struct Free {
  template <class T>
  void operator()(T* one) const {
    free_it(one);
  }
};
using Request = std::unique_ptr<TS_REQ, Free<TS_REQ_free>>;
using Response = std::unique_ptr<TS_RESP, Free<TS_RESP_free>>;
using Imprint = std::unique_ptr<TS_MSG_IMPRINT, Free<TS_MSG_IMPRINT_free>>;
using Algorithm = std::unique_ptr<X509_ALGOR, Free<X509_ALGOR_free>>;
using Verification = std::unique_ptr<TS_VERIFY_CTX, Free<TS_VERIFY_CTX_free>>;
using Trusted = std::unique_ptr<X509_STORE, Free<X509_STORE_free>>;
using MemoryBio = std::unique_ptr<BIO, Free<BIO_free>>;

std::string sha256_bytes(std::string_view bytes) {
  std::string digest(32, '\0');
  unsigned int size = 0;
  EVP_Digest(bytes.data(), bytes.size(), reinterpret_cast<unsigned char*>(digest.data()), &size, EVP_sha256(), nullptr);
  return digest;
}

std::string reason() {
  const unsigned long code = ERR_peek_error();
  const char* words = code == 0 ? nullptr : ERR_reason_error_string(code);
  std::string text = words == nullptr ? "no reason is given" : words;
  ERR_clear_error();
  return text;
}

Trusted trusted_in(const std::filesystem::path& authority) {
  Trusted store(X509_STORE_new());
  const bool loaded = X509_STORE_load_file(store.get(), authority.c_str()) == 1;
  ERR_clear_error();
  if (!loaded)
    throw Error(ErrorKind::usage, "this holds no certificate in PEM form", authority.string(),
                "ask the time-stamp authority for the certificate of its root");
  return store;
}

std::string subject_of(X509* signer) {
  if (signer == nullptr) return {};
  const MemoryBio bio(BIO_new(BIO_s_mem()));
  X509_NAME_print_ex(bio.get(), X509_get_subject_name(signer), 0, XN_FLAG_ONELINE & ~ASN1_STRFLGS_ESC_MSB);
  char* data = nullptr;
  const long length = BIO_get_mem_data(bio.get(), &data);
  return terminal_safe(std::string(data, static_cast<std::size_t>(length)));
}

Wall wall_of(const ASN1_GENERALIZEDTIME* time) {
  ASN1_TIME* epoch = ASN1_TIME_set(nullptr, 0);
  int days = 0, seconds = 0;
  ASN1_TIME_diff(&days, &seconds, epoch, time);
  ASN1_TIME_free(epoch);
  return Wall{} + std::chrono::hours(24) * days + std::chrono::seconds(seconds);
}

/// The certificate that signed, from those that came along.
X509* signer_of(PKCS7* token) {
  STACK_OF(X509)* signers = PKCS7_get0_signers(token, nullptr, 0);
  X509* signer = signers != nullptr && sk_X509_num(signers) > 0 ? sk_X509_value(signers, 0) : nullptr;
  sk_X509_free(signers);
  ERR_clear_error();
  return signer;
}

}  // namespace

std::string time_stamp_request(std::string_view bytes) {
  const Request request(TS_REQ_new());
  const Imprint imprint(TS_MSG_IMPRINT_new());
  const Algorithm algorithm(X509_ALGOR_new());
  X509_ALGOR_set0(algorithm.get(), OBJ_nid2obj(NID_sha256), V_ASN1_NULL, nullptr);
  std::string digest = sha256_bytes(bytes);
  unsigned char* der = nullptr;
  int length = 0;
  if (TS_REQ_set_version(request.get(), 1) != 1 || TS_MSG_IMPRINT_set_algo(imprint.get(), algorithm.get()) != 1 ||
      TS_MSG_IMPRINT_set_msg(imprint.get(), reinterpret_cast<unsigned char*>(digest.data()),
                             static_cast<int>(digest.size())) != 1 ||
      TS_REQ_set_msg_imprint(request.get(), imprint.get()) != 1 || TS_REQ_set_cert_req(request.get(), 1) != 1 ||
      (length = i2d_TS_REQ(request.get(), &der)) <= 0)
    throw Error(ErrorKind::store, "the time-stamp request could not be made (" + reason() + ")", "OpenSSL",
                "check the OpenSSL installation");
  std::string text(reinterpret_cast<char*>(der), static_cast<std::size_t>(length));
  OPENSSL_free(der);
  return text;
}

TimeStamp read_time_stamp(const std::string& response, std::string_view bytes,
                          const std::optional<std::filesystem::path>& authority) {
  TimeStamp stamp;
  Trusted trusted = authority ? trusted_in(*authority) : nullptr;
  const auto* at = reinterpret_cast<const unsigned char*>(response.data());
  const Response parsed(d2i_TS_RESP(nullptr, &at, static_cast<long>(response.size())));
  ERR_clear_error();
  if (!parsed || at != reinterpret_cast<const unsigned char*>(response.data()) + response.size()) {
    stamp.problem = "this is no response of a time-stamp authority (RFC 3161, DER).";
    return stamp;
  }
  TS_TST_INFO* told = TS_RESP_get_tst_info(parsed.get());
  PKCS7* token = TS_RESP_get_token(parsed.get());
  if (told == nullptr || token == nullptr) {
    stamp.problem = "the authority refused to stamp the time.";
    return stamp;
  }
  const auto verified = [&](int flags) {
    const Verification context(TS_VERIFY_CTX_new());
    TS_VERIFY_CTX_add_flags(context.get(), flags);
    const std::string digest = sha256_bytes(bytes);
    auto* imprint = static_cast<unsigned char*>(OPENSSL_malloc(digest.size()));
    std::copy(digest.begin(), digest.end(), reinterpret_cast<char*>(imprint));
    TS_VERIFY_CTX_set_imprint(context.get(), imprint, static_cast<long>(digest.size()));  // takes it
    if ((flags & TS_VFY_SIGNATURE) != 0) TS_VERIFY_CTX_set_store(context.get(), trusted.release());
    return TS_RESP_verify_response(context.get(), parsed.get()) == 1;
  };
  if (!verified(TS_VFY_VERSION | TS_VFY_IMPRINT)) {
    ERR_clear_error();
    stamp.problem = "it stamps something else than this bag's tagmanifest-sha256.txt, or was refused.";
    return stamp;
  }
  if (authority) {
    if (!verified(TS_VFY_VERSION | TS_VFY_IMPRINT | TS_VFY_SIGNATURE)) {
      stamp.problem = "the given authority does not vouch for it (" + reason() + ").";
      return stamp;
    }
  } else {
    // Whose certificate it is nobody can say here, but what it signed must be what is told.
    const MemoryBio content(BIO_new(BIO_s_mem()));
    if (PKCS7_verify(token, nullptr, nullptr, nullptr, content.get(), PKCS7_NOVERIFY) != 1) {
      stamp.problem = "its signature does not fit (" + reason() + ").";
      return stamp;
    }
  }
  stamp.at = wall_of(TS_TST_INFO_get_time(told));
  stamp.by = subject_of(signer_of(token));
  return stamp;
}

}  // namespace switchwright
