#include "switchwright/report/bag.hpp"

#include <doctest/doctest.h>

#include <fstream>
#include <functional>
#include <iterator>

#include "made_up.hpp"
#include "outside.hpp"
#include "record/example.hpp"
#include "report/exporters.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/record/chain.hpp"

using namespace switchwright;
namespace fs = std::filesystem;

namespace {

/// A bag of a faulty made-up part, and what is needed to change it.
class Bagged {
 public:
  explicit Bagged(bool with_key = false) {
    // Written into a store once: every bag of these tests is of the same record.
    static const Kept kept;
    id = kept.id;
    record = kept.record;
    chain = kept.chain;
    std::optional<fs::path> key;
    if (with_key) key = make_key("key");
    write_bag(links(), bag(), key);
  }
  EachLink links() const {
    return [this](const auto& take) {
      for (const std::string& link : chain) take(link);
    };
  }
  fs::path bag() const { return folder_ / "bag"; }
  fs::path make_key(const std::string& name, const std::string& algorithm = "ed25519") const {
    const auto key = folder_ / (name + ".pem");
    REQUIRE(outside::run("openssl genpkey -algorithm " + algorithm + " -out " + key.string()).code == 0);
    REQUIRE(
        outside::run("openssl pkey -in " + key.string() + " -pubout -out " + (folder_ / (name + ".pub.pem")).string())
            .code == 0);
    return key;
  }
  fs::path public_key(const std::string& name) const { return folder_ / (name + ".pub.pem"); }
  void append(const std::string& file, const std::string& text) const {
    std::ofstream(bag() / file, std::ios::app | std::ios::binary) << text;
  }
  /// Replaces a text in a file of the bag.
  void replace(const std::string& file, const std::string& from, const std::string& to) const {
    std::ifstream in(bag() / file, std::ios::binary);
    std::string content{std::istreambuf_iterator<char>(in), {}};
    in.close();
    const auto at = content.find(from);
    REQUIRE(at != std::string::npos);
    content.replace(at, from.size(), to);
    std::ofstream(bag() / file, std::ios::binary) << content;
  }
  /// Makes all manifests fit again, as a forger without the key would.
  void seal_again() const {
    const std::string in_bag = "cd " + bag().string() + " && ";
    REQUIRE(outside::run(in_bag + "sha256sum data/* > manifest-sha256.txt").code == 0);
    REQUIRE(outside::run(in_bag + "sha256sum $(ls bagit.txt bag-info.txt manifest-sha256.txt public-key.pem "
                                  "2>/dev/null) > tagmanifest-sha256.txt")
                .code == 0);
  }

  std::string id;
  Record record;
  std::vector<std::string> chain;

 private:
  struct Kept {
    Kept() {
      const example::Folder folder;
      Store store(folder / "records.sqlite");
      made_up::Choices faulty;
      faulty.faults = {"stuck-closed:cycling"};
      id = made_up::write(store, faulty);
      record = store.load(id, true);
      chain = store.chain(id);
    }
    std::string id;
    Record record;
    std::vector<std::string> chain;
  };
  example::Folder folder_;
};

bool any(const std::vector<std::string>& problems, const std::string& part) {
  for (const auto& problem : problems)
    if (problem.find(part) != std::string::npos) return true;
  return false;
}

std::string all(const std::vector<std::string>& problems) {
  std::string text;
  for (const auto& problem : problems) text += problem + "\n";
  return text;
}

}  // namespace

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
  CHECK(report.files == 7);
  CHECK(report.chain_head == bagged.record.chain_head);
  CHECK_FALSE(report.is_signed);
}

TEST_CASE("another BagIt program would find the declared size and number of files") {
  const Bagged bagged;
  const auto oxum =
      outside::run("cd " + bagged.bag().string() +
                   " && echo \"Payload-Oxum: $(cat data/* | wc -c).$(ls data | wc -l)\" | grep -Fxf - bag-info.txt");
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
  const BagReport report = check_bag(bagged.bag(), bagged.public_key("key"));
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
  CHECK(any(check_bag(bagged.bag(), bagged.public_key("other")).problems, "was not made with the given key"));
  const Bagged plain;
  plain.make_key("key");
  CHECK(any(check_bag(plain.bag(), plain.public_key("key")).problems, "the bag is not signed"));
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
      {"a payload file gone", gone("data/readings.csv"), "data/readings.csv is missing"},
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
         b.replace("data/readings.csv", "fail", "pass");
         b.seal_again();
       },
       "data/readings.csv says something else"},
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
  CHECK(kind_of([&] { write_bag(bagged.links(), third, bagged.bag() / "no-key.pem"); }) == ErrorKind::usage);
  CHECK(kind_of([&] { write_bag(bagged.links(), third, bagged.bag() / "bagit.txt"); }) == ErrorKind::usage);
  CHECK(kind_of([&] { write_bag(bagged.links(), third, bagged.make_key("curve", "x25519")); }) == ErrorKind::usage);
  CHECK(kind_of([&] { write_bag([](const auto&) {}, third); }) == ErrorKind::store);
  CHECK_FALSE(fs::exists(third));
  CHECK(kind_of([&] { check_bag(third); }) == ErrorKind::store);
}
