#include <fmt/format.h>

#include <algorithm>
#include <cctype>
#include <fstream>
#include <iterator>
#include <map>
#include <nlohmann/json.hpp>
#include <set>
#include <sstream>

#include "core/escape.hpp"
#include "report/bag_files.hpp"
#include "report/signature.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/record/canonical.hpp"
#include "switchwright/record/chain.hpp"
#include "switchwright/record/sha256.hpp"
#include "switchwright/report/bag.hpp"

namespace switchwright {

namespace {

namespace fs = std::filesystem;

constexpr const char* tag_manifest = "tagmanifest-sha256.txt";
constexpr const char* payload_manifest = "manifest-sha256.txt";
constexpr const char* signature_file = "tagmanifest-sha256.txt.sig";
constexpr const char* key_file = "public-key.pem";

std::string content_of(const fs::path& path) {
  std::ifstream in(path, std::ios::binary);
  return {std::istreambuf_iterator<char>(in), {}};
}

std::vector<std::string> lines_of(const std::string& text) {
  std::vector<std::string> lines;
  std::istringstream in(text);
  for (std::string line; std::getline(in, line);) {
    if (!line.empty() && line.back() == '\r') line.pop_back();
    if (!line.empty()) lines.push_back(line);
  }
  return lines;
}

/// RFC 8493 2.1.3: a line end and a percent sign in a path are percent-encoded.
std::string decoded(std::string path) {
  for (const auto& [code, plain] : {std::pair{"%0D", "\r"}, {"%0A", "\n"}, {"%0d", "\r"}, {"%0a", "\n"}, {"%25", "%"}})
    for (auto at = path.find(code); at != std::string::npos; at = path.find(code, at + 1)) path.replace(at, 3, plain);
  return path;
}

class Check {
 public:
  Check(fs::path folder, const std::optional<fs::path>& trusted) : folder_(std::move(folder)), trusted_(trusted) {}

  BagReport run() {
    declaration();
    manifest(payload_manifest, true);
    report_.files = named_.size();
    manifest(tag_manifest, false);
    unnamed_files();
    oxum();
    chain();
    signature();
    // What another version of this program rendered may differ by a word; whose key vouches for it need not be doubted.
    if (!(trusted_ && report_.is_signed))
      for (const std::string& sentence : rendered_otherwise_) problem(sentence);
    return std::move(report_);
  }

 private:
  void problem(const std::string& sentence) { report_.problems.push_back(line_safe(sentence)); }
  bool there(const std::string& path) const {
    std::error_code ignored;
    return fs::is_regular_file(fs::symlink_status(folder_ / path, ignored));
  }

  void declaration() {
    if (!there("bagit.txt")) return problem("bagit.txt is missing: this folder is no BagIt bag.");
    const auto lines = lines_of(content_of(folder_ / "bagit.txt"));
    if (lines.empty() || !lines[0].starts_with("BagIt-Version:"))
      problem("bagit.txt does not begin with a BagIt version: this folder is no BagIt bag.");
    if (there("fetch.txt"))
      problem("fetch.txt names files that lie elsewhere; an evidence bag holds everything itself.");
  }

  void manifest(const std::string& name, bool payload) {
    if (!there(name)) return problem(name + " is missing, so nothing vouches for the files that it should name.");
    int line_number = 0;
    for (const std::string& line : lines_of(content_of(folder_ / name))) {
      ++line_number;
      const auto blank = line.find_first_of(" \t");
      const auto start = blank == std::string::npos ? blank : line.find_first_not_of(" \t*", blank);
      if (blank != 64 || start == std::string::npos) {
        problem(fmt::format("{}, line {}: not a SHA-256 and a path.", name, line_number));
        continue;
      }
      const std::string path = decoded(line.substr(start));
      const fs::path normal = fs::path(path).lexically_normal();
      if (normal.is_absolute() || normal.begin() == normal.end() || *normal.begin() == ".." ||
          (payload && *normal.begin() != "data")) {
        problem(fmt::format("{}, line {}: the path {} leads out of the bag.", name, line_number, path));
        continue;
      }
      named_.insert(normal.string());
      file(path, line.substr(0, 64), name);
    }
    if (!payload && !named_.contains(payload_manifest))
      problem(std::string(tag_manifest) + " does not name " + payload_manifest +
              ", so a changed manifest would not show.");
  }

  std::string digest_of(const std::string& path) const {
    std::ifstream in(folder_ / path, std::ios::binary);
    Sha256 digest;
    std::string piece(1U << 16U, '\0');
    while (in.read(piece.data(), static_cast<std::streamsize>(piece.size())), in.gcount() > 0)
      digest.add({piece.data(), static_cast<std::size_t>(in.gcount())});
    return digest.hex();
  }

  void file(const std::string& path, std::string expected, const std::string& name) {
    if (!there(path)) return problem("the file " + path + " is missing; " + name + " names it.");
    for (char& c : expected) c = static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
    if (digest_of(path) != expected)
      problem("the file " + path + " is not the one that was sealed: its SHA-256 differs from " + name + ".");
  }

  void unnamed_files() {
    std::error_code failed;
    for (fs::recursive_directory_iterator it(folder_, failed), end; it != end; it.increment(failed)) {
      if (failed) break;
      if (it->is_directory() && !it->is_symlink()) continue;
      const std::string path = fs::relative(it->path(), folder_).string();
      if (it->is_symlink())
        problem("the file " + path + " is a link to elsewhere; an evidence bag holds everything itself.");
      else if (!named_.contains(path) && path != tag_manifest && path != signature_file)
        problem("the file " + path + " is in no manifest: it was added after sealing.");
    }
    if (failed) problem("the folder cannot be read whole (" + failed.message() + ").");
  }

  void oxum() {
    if (!there("bag-info.txt")) return;
    for (const std::string& line : lines_of(content_of(folder_ / "bag-info.txt"))) {
      constexpr std::string_view label = "Payload-Oxum: ";
      if (!line.starts_with(label)) continue;
      std::uintmax_t bytes = 0;
      for (const std::string& path : named_)
        if (path.starts_with("data/") && there(path)) bytes += fs::file_size(folder_ / path);
      if (line.substr(label.size()) != fmt::format("{}.{}", bytes, report_.files))
        problem("bag-info.txt tells another size or number of files than the bag holds.");
    }
  }

  /// Follows the chain, then makes everything anew that the bag should hold, and compares.
  void chain() {
    if (!there("data/chain.jsonl"))
      return problem("data/chain.jsonl is missing, so the record cannot be followed back.");
    try {
      const EachLink links = [file =
                                  folder_ / "data/chain.jsonl"](const std::function<void(const std::string&)>& take) {
        std::ifstream in(file, std::ios::binary);
        for (std::string line; std::getline(in, line);) {
          if (!line.empty() && line.back() == '\r') line.pop_back();
          if (!line.empty()) take(line);
        }
      };
      const Record record = record_from_chain(links);
      report_.chain_head = record.chain_head;
      payload(record, links);
      labels(record);
    } catch (const Error& error) {
      problem("data/chain.jsonl, " + error.where() + ": " + error.what_happened() + ".");
    } catch (const std::exception& error) {
      problem(std::string("the bag cannot be compared with its chain: ") + error.what() + ".");
    }
  }

  void payload(const Record& record, const EachLink& links) {
    std::set<std::string> meant;
    for (const BagFile& file : bag_payload(record, links)) {
      const std::string& path = file.path;
      meant.insert(path);
      if (!there(path)) {
        problem(path + " is missing; every bag of a record holds it.");
      } else if (!same(file)) {
        const std::string sentence = path + " says something else than data/chain.jsonl, from which it should follow.";
        const bool rendered =
            path == "data/report.html" || path == "data/readings.csv" || path == "data/record.schema.json";
        (rendered ? rendered_otherwise_ : report_.problems).push_back(sentence);
      }
    }
    for (const std::string& path : named_)
      if (path.starts_with("data/") && !meant.contains(path))
        problem("the file " + path + " is in no bag of a record: it was added.");
  }

  /// Of JSON the content counts, of everything else each byte; and of a document too long to be read at once too.
  bool same(const BagFile& file) const {
    const fs::path path = folder_ / file.path;
    std::ifstream in(path, std::ios::binary);
    std::string found;
    bool equal = true;
    file.write([&](std::string_view meant) {
      if (!equal) return;
      found.resize(meant.size());
      in.read(found.data(), static_cast<std::streamsize>(found.size()));
      equal = static_cast<std::size_t>(in.gcount()) == meant.size() && found == meant;
    });
    if (equal && in.peek() == std::ifstream::traits_type::eof()) return true;
    constexpr std::uintmax_t readable_at_once = 4U << 20U;
    if (file.path != "data/record.json" || fs::file_size(path) > readable_at_once) return false;
    const auto parsed = nlohmann::json::parse(content_of(path), nullptr, false);
    std::string meant;
    file.write([&](std::string_view piece) { meant += piece; });
    return parsed.is_object() && canonical_bytes(parsed) == canonical_bytes(nlohmann::json::parse(meant));
  }

  void labels(const Record& record) {
    if (!there("bag-info.txt")) return problem("bag-info.txt is missing; every bag of a record holds it.");
    const std::vector<std::string> lines = lines_of(content_of(folder_ / "bag-info.txt"));
    for (const auto& [label, value] : bag_labels(record))
      if (std::count(lines.begin(), lines.end(), label + ": " + value) != 1 ||
          std::count_if(lines.begin(), lines.end(), [&](const std::string& l) { return l.starts_with(label + ":"); }) !=
              1)
        problem("bag-info.txt says something else of " + label + " than data/chain.jsonl.");
  }

  void signature() {
    const bool has_signature = there(signature_file), has_key = there(key_file);
    if (!has_signature) {
      if (has_key) problem(std::string(key_file) + " is there, but the signature is missing.");
      if (trusted_) problem("the bag is not signed, so the given key vouches for nothing.");
      return;
    }
    if (!has_key && !trusted_) return problem("the bag is signed, but there is no key to check the signature with.");
    std::optional<VerifyingKey> key;
    if (trusted_) {
      key.emplace(*trusted_);
    } else {
      try {
        key.emplace(folder_ / key_file);
      } catch (const Error& error) {
        return problem(std::string(key_file) + ": " + error.what_happened() + ".");
      }
    }
    if (!key->fits(content_of(folder_ / tag_manifest), content_of(folder_ / signature_file)))
      return problem(trusted_ ? "the signature was not made with the given key, or the bag was changed after signing."
                              : "the signature does not fit: the bag was changed after signing.");
    report_.is_signed = true;
    report_.signed_by = key->fingerprint();
  }

  fs::path folder_;
  std::optional<fs::path> trusted_;
  std::set<std::string> named_;
  std::vector<std::string> rendered_otherwise_;
  BagReport report_;
};

}  // namespace

BagReport check_bag(const fs::path& folder, const std::optional<fs::path>& trusted) {
  std::error_code failed;
  if (!fs::is_directory(folder, failed))
    throw Error(ErrorKind::store, "there is no bag here" + (failed ? " (" + failed.message() + ")" : std::string{}),
                folder.string(), "name the folder that holds bagit.txt");
  return Check(folder, trusted).run();
}

}  // namespace switchwright
