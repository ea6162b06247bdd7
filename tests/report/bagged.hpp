// A bag of a faulty made-up part, and what is needed to change it.
#pragma once

#include <doctest/doctest.h>

#include <fstream>
#include <iterator>
#include <string>
#include <vector>

#include "made_up.hpp"
#include "outside.hpp"
#include "record/example.hpp"
#include "switchwright/record/additions.hpp"
#include "switchwright/record/chain.hpp"
#include "switchwright/report/bag.hpp"

namespace bagged {

using namespace switchwright;
namespace fs = std::filesystem;

class Bagged {
 public:
  explicit Bagged(bool with_key = false, const BagSettings& further = {}) {
    // Written into a store once: every bag of these tests is of the same record.
    static const Kept kept;
    id = kept.id;
    record = kept.record;
    chain = kept.chain;
    std::optional<fs::path> key;
    if (with_key) key = make_key("key");
    write_bag(links(), bag(), {key, further.paper, kept.store_path()});
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
    REQUIRE(outside::run(in_bag + "sha256sum $(find data -type f | sort) > manifest-sha256.txt").code == 0);
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
      Store store(folder / "records.sqlite");
      made_up::Choices faulty;
      faulty.faults = {"stuck-closed:cycling"};
      id = made_up::write(store, faulty);
      const Wall later = example::at(600).wall;
      std::ofstream(folder / "a photo.jpg") << "not really a photo\n";
      Batch more;
      more.events.push_back(event_of(AddedNote{later, "Desk", "seen at the desk"}));
      more.events.push_back(event_of(keep_file(store.path(), folder / "a photo.jpg", "Desk", later)));
      store.append(id, more);
      record = store.load(id, true);
      chain = store.chain(id);
    }
    fs::path store_path() const { return folder / "records.sqlite"; }
    example::Folder folder;
    std::string id;
    Record record;
    std::vector<std::string> chain;
  };
  example::Folder folder_;
};

inline bool any(const std::vector<std::string>& problems, const std::string& part) {
  for (const auto& problem : problems)
    if (problem.find(part) != std::string::npos) return true;
  return false;
}

inline std::string all(const std::vector<std::string>& problems) {
  std::string text;
  for (const auto& problem : problems) text += problem + "\n";
  return text;
}

}  // namespace bagged
