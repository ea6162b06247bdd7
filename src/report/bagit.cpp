#include "report/bagit.hpp"

#include <fmt/format.h>
#include <openssl/evp.h>

#include <algorithm>
#include <cctype>
#include <fstream>
#include <iterator>
#include <memory>
#include <optional>
#include <regex>

namespace switchwright {

namespace {

namespace fs = std::filesystem;

/// RFC 8493 2.1.3: a line end and a percent sign in a path are percent-encoded, and nothing else is.
std::string decoded(std::string path) {
  for (const auto& [code, plain] : {std::pair{"%0D", "\r"}, {"%0A", "\n"}, {"%0d", "\r"}, {"%0a", "\n"}, {"%25", "%"}})
    for (auto at = path.find(code); at != std::string::npos; at = path.find(code, at + 1)) path.replace(at, 3, plain);
  return path;
}

struct FreeDigest {
  void operator()(EVP_MD_CTX* context) const { EVP_MD_CTX_free(context); }
};

std::string digest_of(const fs::path& path, const EVP_MD* algorithm) {
  const std::unique_ptr<EVP_MD_CTX, FreeDigest> digest(EVP_MD_CTX_new());
  EVP_DigestInit_ex(digest.get(), algorithm, nullptr);
  std::ifstream in(path, std::ios::binary);
  std::string piece(1U << 16U, '\0');
  while (in.read(piece.data(), static_cast<std::streamsize>(piece.size())), in.gcount() > 0)
    EVP_DigestUpdate(digest.get(), piece.data(), static_cast<std::size_t>(in.gcount()));
  unsigned char bytes[EVP_MAX_MD_SIZE];
  unsigned int count = 0;
  EVP_DigestFinal_ex(digest.get(), bytes, &count);
  std::string text;
  for (unsigned int i = 0; i < count; ++i) text += fmt::format("{:02x}", bytes[i]);
  return text;
}

/// The algorithms that RFC 8493 2.4 asks for. Nothing for others.
const EVP_MD* algorithm_named(const std::string& name) {
  return name == "sha256" ? EVP_sha256() : name == "sha512" ? EVP_sha512() : nullptr;
}

class BagIt {
 public:
  BagIt(const fs::path& folder, const std::set<std::string>& unlisted) : folder_(folder), unlisted_(unlisted) {}

  BagItFound run() {
    declaration();
    find_files();
    if (!there("bag-info.txt")) problem("bag-info.txt is missing; every bag of a record holds it.");
    if (!fs::is_directory(fs::symlink_status(folder_ / "data")))
      problem("the folder data is missing: this bag has no payload.");
    if (there("fetch.txt"))
      problem("fetch.txt names files that lie elsewhere; an evidence bag holds everything itself.");
    for (const bool payload : {true, false}) manifests(payload);
    completeness();
    info();
    return std::move(found_);
  }

 private:
  void problem(const std::string& sentence) { found_.problems.push_back(sentence); }
  bool there(const std::string& path) const { return is_bag_file(folder_ / path); }

  void declaration() {
    if (!there("bagit.txt")) return problem("bagit.txt is missing: this folder is no BagIt bag.");
    const std::string text = bag_file_content(folder_ / "bagit.txt");
    const auto lines = bag_lines(text);
    std::smatch version;
    if (text.starts_with("\xEF\xBB\xBF"))
      problem("bagit.txt begins with a byte order mark, which the standard forbids.");
    else if (lines.empty() || !lines[0].starts_with("BagIt-Version:"))
      problem("bagit.txt does not begin with a BagIt version: this folder is no BagIt bag.");
    else if (!std::regex_match(lines[0], version, std::regex("BagIt-Version: ([0-9]+\\.[0-9]+)")))
      problem("bagit.txt names no version such as 1.0.");
    else if (version[1] != "1.0" && version[1] != "0.97")
      problem("bagit.txt names a version of BagIt that is not known here; it may mean something else.");
    else if (lines.size() < 2 || lines[1] != "Tag-File-Character-Encoding: UTF-8")
      problem("bagit.txt does not say that the bag's texts are UTF-8.");
    else if (lines.size() > 2)
      problem("bagit.txt has more than its two lines.");
  }

  /// Every file of the folder, and what is no file.
  void find_files() {
    std::error_code failed;
    for (fs::recursive_directory_iterator it(folder_, failed), end; it != end; it.increment(failed)) {
      if (failed) break;
      const std::string path = fs::relative(it->path(), folder_).string();
      if (it->is_symlink())
        problem("the file " + path + " is a link to elsewhere; an evidence bag holds everything itself.");
      else if (it->is_directory())
        continue;
      else if (!it->is_regular_file())
        problem("the file " + path + " is neither a file nor a folder.");
      else
        files_.insert(path);
    }
    if (failed) problem("the folder cannot be read whole (" + failed.message() + ").");
  }

  /// All manifests of one kind: each vouches for itself, and the one with SHA-256 must be there.
  void manifests(bool payload) {
    const std::string stem = payload ? "manifest-" : "tagmanifest-";
    const std::string wanted = payload ? payload_manifest : tag_manifest;
    if (!there(wanted)) problem(wanted + " is missing, so nothing vouches for the files that it should name.");
    for (const std::string& name : files_) {
      if (!name.starts_with(stem) || !name.ends_with(".txt") || name.find('/') != std::string::npos) continue;
      const std::string word = name.substr(stem.size(), name.size() - stem.size() - 4);
      const EVP_MD* algorithm = algorithm_named(word);
      if (algorithm == nullptr)
        problem(name + " uses a way of hashing that is not known here: sha256 and sha512 are.");
      else
        manifest(name, payload, algorithm);
    }
  }

  void manifest(const std::string& name, bool payload, const EVP_MD* algorithm) {
    std::set<std::string>& named = named_by_[name];
    const auto digits = static_cast<std::size_t>(2 * EVP_MD_size(algorithm));
    int line_number = 0;
    for (const std::string& line : bag_lines(bag_file_content(folder_ / name))) {
      ++line_number;
      const auto wrong = [&](const std::string& what) {
        problem(fmt::format("{}, line {}: {}", name, line_number, what));
      };
      const auto blank = line.find_first_of(" \t");
      const auto start = blank == std::string::npos ? blank : line.find_first_not_of(" \t*", blank);
      if (blank != digits || start == std::string::npos ||
          line.substr(0, blank).find_first_not_of("0123456789abcdefABCDEF") != std::string::npos) {
        wrong(digits == 64 ? "not a SHA-256 and a path." : "not a SHA-512 and a path.");
        continue;
      }
      const std::string path = decoded(line.substr(start));
      const fs::path normal = fs::path(path).lexically_normal();
      if (normal.is_absolute() || path.starts_with('~') || *normal.begin() == "..") {
        wrong("the path " + path + " leads out of the bag.");
      } else if ((*normal.begin() == "data") != payload) {
        wrong(payload ? "the path " + path + " leads out of the bag: payload lies in data/."
                      : "the path " + path + " is payload, which a tag manifest must not name.");
      } else if (!payload && normal.string().starts_with("tagmanifest-") && normal.string().ends_with(".txt")) {
        wrong("a tag manifest must not name " + path + ".");
      } else if (!named.insert(normal.string()).second) {
        wrong("the path " + path + " stands there twice.");
      } else {
        file(path, line.substr(0, digits), name, algorithm);
      }
    }
  }

  void file(const std::string& path, std::string expected, const std::string& manifest, const EVP_MD* algorithm) {
    if (!there(path)) return problem("the file " + path + " is missing; " + manifest + " names it.");
    for (char& c : expected) c = static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
    const std::string digest = digest_of(folder_ / path, algorithm);
    if (digest.size() == 64 && path.starts_with("data/")) found_.sha256s[path] = digest;
    if (digest != expected)
      problem(fmt::format("the file {} is not the one that was sealed: its SHA-{} differs from {}.", path,
                          4 * digest.size(), manifest));
  }

  /// Every payload file stands in every payload manifest, every payload manifest in every tag manifest.
  void completeness() {
    std::set<std::string> named_anywhere;
    for (const auto& [manifest, named] : named_by_) {
      named_anywhere.insert(named.begin(), named.end());
      if (manifest.starts_with("manifest-")) found_.payload.insert(named.begin(), named.end());
    }
    for (const std::string& path : files_)
      if (!named_anywhere.contains(path) && !unlisted_.contains(path) && !named_by_.contains(path))
        problem("the file " + path + " is in no manifest: it was added after sealing.");
    for (const auto& [manifest, named] : named_by_) {
      const bool payload = manifest.starts_with("manifest-");
      for (const std::string& path : payload ? found_.payload : std::set<std::string>{})
        if (!named.contains(path)) problem(manifest + " does not name " + path + ", which another manifest names.");
      if (payload) continue;
      for (const auto& [other, ignored] : named_by_)
        if (other.starts_with("manifest-") && !named.contains(other))
          problem(manifest + " does not name " + other + ", so a changed manifest would not show.");
      for (const char* tag_file : {"bagit.txt", "bag-info.txt"})
        if (there(tag_file) && !named.contains(tag_file))
          problem(manifest + " does not name " + tag_file + ", so a change to it would not show.");
    }
  }

  /// RFC 8493 2.2.2: label, colon, value; what begins with a blank goes on with the value before.
  void info() {
    if (!there("bag-info.txt")) return;
    int line_number = 0, oxums = 0;
    for (const std::string& line : bag_lines(bag_file_content(folder_ / "bag-info.txt"))) {
      ++line_number;
      if (line_number > 1 && (line.front() == ' ' || line.front() == '\t')) continue;
      const auto colon = line.find(':');
      if (colon == std::string::npos || colon == 0 || line.front() == ' ' || line[colon - 1] == ' ') {
        problem(fmt::format("bag-info.txt, line {}: not a label, a colon and a value.", line_number));
        continue;
      }
      constexpr std::string_view label = "Payload-Oxum: ";
      if (!line.starts_with(label)) continue;
      std::uintmax_t bytes = 0;
      for (const std::string& path : found_.payload)
        if (there(path)) bytes += fs::file_size(folder_ / path);
      if (++oxums > 1)
        problem("bag-info.txt tells the size of its payload twice.");
      else if (line.substr(label.size()) != fmt::format("{}.{}", bytes, found_.payload.size()))
        problem("bag-info.txt tells another size or number of files than the bag holds.");
    }
  }

  fs::path folder_;
  const std::set<std::string>& unlisted_;
  std::set<std::string> files_;
  std::map<std::string, std::set<std::string>> named_by_;  ///< by manifest
  BagItFound found_;
};

}  // namespace

std::vector<std::string> bag_lines(const std::string& text) {
  std::vector<std::string> lines;
  for (std::size_t at = 0; at < text.size();) {
    const std::size_t end = std::min(text.find_first_of("\r\n", at), text.size());
    if (end > at) lines.push_back(text.substr(at, end - at));
    at = end + 1;
  }
  return lines;
}

std::string bag_file_content(const fs::path& path) {
  std::ifstream in(path, std::ios::binary);
  return {std::istreambuf_iterator<char>(in), {}};
}

bool is_bag_file(const fs::path& path) {
  std::error_code ignored;
  return fs::is_regular_file(fs::symlink_status(path, ignored));
}

BagItFound check_bagit(const fs::path& folder, const std::set<std::string>& unlisted) {
  return BagIt(folder, unlisted).run();
}

}  // namespace switchwright
