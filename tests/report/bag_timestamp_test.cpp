// A time stamp by an authority made here with openssl, which shares the library but none of our code: it reads our request, and
// checks the answer as whoever receives the bag would (RFC 3161).
#include <doctest/doctest.h>

#include "bagged.hpp"
#include "switchwright/core/error.hpp"

using namespace bagged;

namespace {

/// A root, and a signer that may stamp times.
class Authority {
 public:
  Authority() {
    std::ofstream(folder_ / "ts.cnf") << R"(
[tsa]
default_tsa = one
[one]
serial = $ENV::HERE/serial
signer_digest = sha256
default_policy = 1.2.3.4.1
digests = sha256, sha384, sha512
accuracy = secs:1
ess_cert_id_alg = sha256
[stamping]
extendedKeyUsage = critical,timeStamping
keyUsage = critical,digitalSignature
basicConstraints = CA:FALSE
)";
    std::ofstream(folder_ / "serial") << "01\n";
    run("openssl req -x509 -newkey rsa:2048 -nodes -keyout root.key -out root.pem -days 30 -subj '/O=Made up/CN=Made-up root' "
        "2>/dev/null");
    run("openssl req -newkey rsa:2048 -nodes -keyout tsa.key -out tsa.csr -subj '/O=Made up/CN=Made-up time stamps' 2>/dev/null");
    run("openssl x509 -req -in tsa.csr -CA root.pem -CAkey root.key -CAcreateserial -out tsa.pem -days 20 -extfile ts.cnf "
        "-extensions stamping 2>/dev/null");
  }
  fs::path root() const { return folder_ / "root.pem"; }
  fs::path answer(const fs::path& request) const {
    run("openssl ts -reply -config ts.cnf -section one -queryfile " + request.string() +
        " -signer tsa.pem -inkey tsa.key -out answer.tsr");
    return folder_ / "answer.tsr";
  }
  outside::Result run(const std::string& command) const {
    const auto result = outside::run("cd " + folder_.path().string() + " && HERE=. && export HERE && " + command);
    CAPTURE(result.output);
    REQUIRE(result.code == 0);
    return result;
  }
  fs::path operator/(const std::string& name) const { return folder_ / name; }

 private:
  example::Folder folder_;
};

BagTrust trusting(const Authority& authority) { return {{}, authority.root()}; }

}  // namespace

TEST_CASE("a time stamp is asked for, put into the bag, and checked here and by openssl alone") {
  REQUIRE_PROGRAM("openssl", "openssl");
  const Authority authority;
  const Bagged bagged(true);
  const auto request = authority / "request.tsq";
  write_time_stamp_request(bagged.bag(), request);
  const auto text = authority.run("openssl ts -query -in request.tsq -text").output;
  CHECK(text.find("Hash Algorithm: sha256") != std::string::npos);
  CHECK(text.find("Certificate required: yes") != std::string::npos);
  // The same request as openssl itself would make it.
  authority.run("openssl ts -query -data " + (bagged.bag() / "tagmanifest-sha256.txt").string() +
                " -sha256 -cert -no_nonce -out own.tsq && cmp own.tsq request.tsq");

  attach_time_stamp(bagged.bag(), authority.answer(request), authority.root());
  authority.run("openssl ts -verify -data " + (bagged.bag() / "tagmanifest-sha256.txt").string() + " -in " +
                (bagged.bag() / "tagmanifest-sha256.txt.tsr").string() + " -CAfile root.pem");
  const auto told = authority.run("openssl ts -reply -in answer.tsr -text").output;
  for (const bool trusted : {true, false}) {
    const BagReport report = check_bag(bagged.bag(), trusted ? trusting(authority) : BagTrust{});
    CAPTURE(all(report.problems));
    CHECK(report.problems.empty());
    CHECK(report.stamp_is_trusted == trusted);
    CHECK(report.stamped_by == "O = Made up, CN = Made-up time stamps");
    REQUIRE(report.stamped_at.has_value());
    // "Time stamp: Nov 26 14:20:01 2026 GMT", read by date.
    const auto at = told.find("Time stamp: ");
    REQUIRE(at != std::string::npos);
    const auto date =
        outside::run("date -u -d '" + told.substr(at + 12, told.find('\n', at) - at - 12) + "' +%Y-%m-%dT%H:%M:%S");
    CHECK(iso8601(*report.stamped_at).substr(0, 19) == date.output.substr(0, 19));
  }
}

TEST_CASE("a time stamp that is none of this bag, or of nobody who is trusted, is refused with its reason") {
  REQUIRE_PROGRAM("openssl", "openssl");
  const Authority authority, other;
  const Bagged bagged;
  const auto request = authority / "request.tsq";
  const auto refused = [&](const fs::path& response, const Authority& by, const char* words) {
    CAPTURE(words);
    CHECK_THROWS_WITH_AS(attach_time_stamp(bagged.bag(), response, by.root()), doctest::Contains(words), Error);
    CHECK_FALSE(fs::exists(bagged.bag() / "tagmanifest-sha256.txt.tsr"));
  };
  CHECK(any(check_bag(bagged.bag(), trusting(authority)).problems, "the bag has no time stamp"));
  write_time_stamp_request(bagged.bag(), request);
  refused(authority.answer(request), other, "the given authority does not vouch for it");
  refused(request, authority, "this is no response of a time-stamp authority");
  refused(authority / "none", authority, "cannot be read");
  authority.run("openssl ts -query -data root.pem -sha256 -cert -out else.tsq");
  refused(authority.answer(authority / "else.tsq"), authority, "it stamps something else than this bag's");
  authority.run("openssl ts -query -data root.pem -md5 -cert -out weak.tsq");  // which this authority refuses
  refused(authority.answer(authority / "weak.tsq"), authority, "refused");
}

TEST_CASE("a stamped bag that was changed afterwards does not pass") {
  REQUIRE_PROGRAM("openssl", "openssl");
  const Authority authority;
  const Bagged bagged;
  const auto request = authority / "request.tsq";
  write_time_stamp_request(bagged.bag(), request);
  attach_time_stamp(bagged.bag(), authority.answer(request));
  CHECK_THROWS_WITH_AS(attach_time_stamp(bagged.bag(), authority / "answer.tsr"),
                       doctest::Contains("has a time stamp already"), Error);
  bagged.append("bag-info.txt", "Internal-Sender-Description: x\n");
  bagged.seal_again();
  CHECK(any(check_bag(bagged.bag()).problems, "it stamps something else"));
  // One byte of the answer: signature, time or name.
  const Bagged second;
  write_time_stamp_request(second.bag(), request);
  attach_time_stamp(second.bag(), authority.answer(request));
  const auto place = second.bag() / "tagmanifest-sha256.txt.tsr";
  std::ifstream in(place, std::ios::binary);
  const std::string whole{std::istreambuf_iterator<char>(in), {}};
  for (std::size_t at = 10; at < whole.size(); at += 97) {
    std::string torn = whole;
    torn[at] = static_cast<char>(torn[at] ^ 0x10);
    std::ofstream(place, std::ios::binary) << torn;
    CAPTURE(at);
    CHECK_FALSE(check_bag(second.bag(), trusting(authority), false).problems.empty());
  }
}
