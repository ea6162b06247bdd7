#include "switchwright/report/bag.hpp"

#include <doctest/doctest.h>

#include <fstream>
#include <functional>

#include "bagged.hpp"
#include "report/exporters.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/record/chain.hpp"

using namespace switchwright;
using namespace bagged;
namespace fs = std::filesystem;

TEST_CASE("the chain alone rebuilds the record as the store loads it") {
  const Bagged bagged;
  CHECK(json_exporter()->render(record_from_chain(bagged.chain)) == json_exporter()->render(bagged.record));
}

TEST_CASE("a bag is checked by sha256sum and its chain by hand") {
  // Reference: sha256sum of GNU coreutils, as RFC 8493 manifests allow.
  const Bagged bagged;
  const std::string in_bag = "cd " + bagged.bag().string() + " && ";
  for (const char* manifest : {"manifest-sha256.txt", "tagmanifest-sha256.txt"}) {
    CAPTURE(manifest);
    const auto result = outside::run(in_bag + "sha256sum --strict -c " + manifest);
    CAPTURE(result.output);
    CHECK(result.code == 0);
  }
  // What the report tells its reader to type.
  CHECK(outside::run(in_bag + "tail -n 1 data/chain.jsonl | tr -d '\\n' | sha256sum").output.substr(0, 64) ==
        bagged.record.chain_head);
  CHECK(outside::run(in_bag + "cat bagit.txt").output == "BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n");
  const BagReport report = check_bag(bagged.bag());
  CAPTURE(all(report.problems));
  CHECK(report.problems.empty());
  CHECK(report.files == 9);
  CHECK(report.chain_head == bagged.record.chain_head);
  CHECK_FALSE(report.is_signed);
}

TEST_CASE("another BagIt program would find the declared size and number of files") {
  const Bagged bagged;
  const auto oxum = outside::run(
      "cd " + bagged.bag().string() +
      " && echo \"Payload-Oxum: $(find data -type f -exec cat {} + | wc -c).$(find data -type f | wc -l)\" | grep -Fxf - bag-info.txt");
  CHECK(oxum.code == 0);
}

TEST_CASE("a signed bag is verified by openssl") {
  REQUIRE_PROGRAM("openssl", "openssl");
  const Bagged bagged(true);
  const std::string verify =
      "cd " + bagged.bag().string() +
      " && openssl pkeyutl -verify -pubin -inkey public-key.pem -rawin -in tagmanifest-sha256.txt "
      "-sigfile tagmanifest-sha256.txt.sig";
  CHECK(outside::run(verify).code == 0);
  const BagReport report = check_bag(bagged.bag(), {bagged.public_key("key"), {}});
  CAPTURE(all(report.problems));
  CHECK(report.problems.empty());
  CHECK(report.is_signed);
  const auto fingerprint =
      outside::run("openssl pkey -pubin -in " + bagged.public_key("key").string() + " -outform DER | sha256sum");
  CHECK(report.signed_by == fingerprint.output.substr(0, 64));
  CHECK(check_bag(bagged.bag()).is_signed);
  // And the other way round: openssl refuses what was changed.
  bagged.replace("bag-info.txt", "Bench Operator", "Other Operator");
  bagged.seal_again();
  CHECK(outside::run(verify).code != 0);
  CHECK(any(check_bag(bagged.bag()).problems, "the signature does not fit: the bag was changed after signing"));
}

TEST_CASE("a bag that somebody signed with another key does not pass for the trusted one") {
  const Bagged bagged(true);
  bagged.make_key("other");
  CHECK(any(check_bag(bagged.bag(), {bagged.public_key("other"), {}}).problems, "was not made with the given key"));
  const Bagged plain;
  plain.make_key("key");
  CHECK(any(check_bag(plain.bag(), {plain.public_key("key"), {}}).problems, "the bag is not signed"));
}

TEST_CASE("every change to a bag is found and told in one sentence") {
  struct Row {
    const char* what;
    std::function<void(const Bagged&)> change;
    const char* found;
  };
  const auto gone = [](const char* file) { return [file](const Bagged& b) { fs::remove(b.bag() / file); }; };
  const Row rows[] = {
      {"a byte added to the report", [](const Bagged& b) { b.append("data/report.html", " "); },
       "data/report.html is not the one that was sealed"},
      {"a reading changed",
       [](const Bagged& b) { b.replace("data/record.json", "\"value\": 14400", "\"value\": 14300"); },
       "data/record.json is not the one"},
      {"a payload file gone", gone("data/results.csv"), "data/results.csv is missing"},
      {"a file added", [](const Bagged& b) { b.append("data/extra.txt", "x"); }, "data/extra.txt is in no manifest"},
      {"a tag file added", [](const Bagged& b) { b.append("notes.txt", "x"); }, "notes.txt is in no manifest"},
      {"the tag file changed", [](const Bagged& b) { b.replace("bag-info.txt", "Bench Operator", "Other Operator"); },
       "bag-info.txt is not the one that was sealed"},
      {"the manifest changed", [](const Bagged& b) { b.append("manifest-sha256.txt", "\n"); },
       "manifest-sha256.txt is not the one that was sealed"},
      {"the manifest gone", gone("manifest-sha256.txt"), "manifest-sha256.txt is missing"},
      {"the tag manifest gone", gone("tagmanifest-sha256.txt"), "tagmanifest-sha256.txt is missing"},
      {"no declaration", gone("bagit.txt"), "this folder is no BagIt bag"},
      {"a path out of the bag",
       [](const Bagged& b) { b.append("manifest-sha256.txt", std::string(64, '0') + "  ../../etc/passwd\n"); },
       "leads out of the bag"},
      {"an absolute path",
       [](const Bagged& b) { b.append("manifest-sha256.txt", std::string(64, '0') + "  /etc/passwd\n"); },
       "leads out of the bag"},
      {"a line that is none", [](const Bagged& b) { b.append("manifest-sha256.txt", "hello\n"); },
       "not a SHA-256 and a path"},
      {"a file that is a link",
       [](const Bagged& b) {
         fs::remove(b.bag() / "data/meter.toml");
         fs::create_symlink("/etc/hostname", b.bag() / "data/meter.toml");
       },
       "is a link to elsewhere"},
      {"files elsewhere", [](const Bagged& b) { b.append("fetch.txt", "http://example.invalid/x 1 data/x\n"); },
       "names files that lie elsewhere"},
      {"a record forged, manifests made to fit",
       [](const Bagged& b) {
         b.replace("data/record.json", "\"value\": 14400", "\"value\": 14300");
         b.seal_again();
       },
       "data/record.json says something else than data/chain.jsonl"},
      {"a chain forged, manifests made to fit",
       [](const Bagged& b) {
         b.replace("data/chain.jsonl", "\"value\":14400", "\"value\":14300");
         b.seal_again();
       },
       "it does not follow the link before it"},
      {"the last link cut off, manifests made to fit",
       [](const Bagged& b) {
         fs::resize_file(b.bag() / "data/chain.jsonl",
                         fs::file_size(b.bag() / "data/chain.jsonl") - b.chain.back().size() - 1);
         b.seal_again();
       },
       "data/record.json says something else"},
      {"a chain that is no JSON",
       [](const Bagged& b) {
         b.append("data/chain.jsonl", "nonsense\n");
         b.seal_again();
       },
       "it cannot be read"},
      {"a record that is no JSON",
       [](const Bagged& b) {
         b.append("data/record.json", "}");
         b.seal_again();
       },
       "data/record.json says something else"},
      {"readings changed, manifests made to fit",
       [](const Bagged& b) {
         b.replace("data/results.csv", "fail", "pass");
         b.seal_again();
       },
       "data/results.csv says something else"},
      {"limits of the profile changed, manifests made to fit",
       [](const Bagged& b) {
         b.append("data/profile.toml", "\n# and a limit\n");
         b.seal_again();
       },
       "data/profile.toml says something else"},
      {"the report taken out, manifests made to fit",
       [](const Bagged& b) {
         fs::remove(b.bag() / "data/report.html");
         b.seal_again();
       },
       "data/report.html is missing"},
      {"a paper added, manifests made to fit",
       [](const Bagged& b) {
         b.append("data/certificate.txt", "This part is good.");
         b.seal_again();
       },
       "data/certificate.txt is in no bag of a record"},
      {"another operator on the label, manifests made to fit",
       [](const Bagged& b) {
         b.replace("bag-info.txt", "Bench Operator", "Other Operator");
         b.seal_again();
       },
       "bag-info.txt says something else of Contact-Name"},
      {"a year that no clock holds, manifests made to fit",
       [](const Bagged& b) {
         b.replace("data/chain.jsonl", "\"started\":\"20", "\"started\":\"99");
         b.seal_again();
       },
       "is beyond the clock's range"},
  };
  for (const Row& row : rows) {
    CAPTURE(row.what);
    const Bagged bagged;
    row.change(bagged);
    const BagReport report = check_bag(bagged.bag());
    CAPTURE(all(report.problems));
    CHECK(any(report.problems, row.found));
  }
}

TEST_CASE("a bag is written whole or not at all and never over something else") {
  const Bagged bagged;
  CHECK_THROWS_AS(write_bag(bagged.links(), bagged.bag()), Error);
  const auto kind_of = [&](const std::function<void()>& act) {
    try {
      act();
    } catch (const Error& error) {
      return error.kind();
    }
    FAIL("no error came");
    return ErrorKind::interrupted;
  };
  const auto elsewhere = bagged.bag().parent_path() / "elsewhere";
  fs::create_directory(elsewhere);
  write_bag(bagged.links(), elsewhere);  // an empty folder is fine
  CHECK(check_bag(elsewhere).problems.empty());
  const auto third = bagged.bag().parent_path() / "third";
  CHECK(kind_of([&] { write_bag(bagged.links(), third, {bagged.bag() / "no-key.pem", {}, {}}); }) == ErrorKind::usage);
  CHECK(kind_of([&] { write_bag(bagged.links(), third, {bagged.bag() / "bagit.txt", {}, {}}); }) == ErrorKind::usage);
  CHECK(kind_of([&] {
          write_bag(bagged.links(), third, {bagged.make_key("curve", "x25519"), {}, {}});
        }) == ErrorKind::usage);
  CHECK(kind_of([&] { write_bag([](const auto&) {}, third); }) == ErrorKind::store);
  CHECK_FALSE(fs::exists(third));
  CHECK(kind_of([&] { check_bag(third); }) == ErrorKind::store);
}
