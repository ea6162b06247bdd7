// What RFC 8493 (BagIt 1.0) asks of a folder, whatever it holds.
#pragma once

#include <filesystem>
#include <map>
#include <set>
#include <string>
#include <vector>

namespace switchwright {

struct BagItFound {
  std::vector<std::string> problems;           ///< one sentence each; empty: complete and valid
  std::set<std::string> payload;               ///< what the payload manifests name, each under data/
  std::map<std::string, std::string> sha256s;  ///< of the payload files that are there
};

inline constexpr const char* payload_manifest = "manifest-sha256.txt";
inline constexpr const char* tag_manifest = "tagmanifest-sha256.txt";

/// Reads the whole folder. Asks for more than the standard where evidence needs it: SHA-256 manifests of both kinds, no
/// fetch.txt, no links, and no file that stands in no manifest, but for `unlisted`.
BagItFound check_bagit(const std::filesystem::path& folder, const std::set<std::string>& unlisted);

/// Lines as the standard ends them: LF, CR or CRLF; empty ones left out.
std::vector<std::string> bag_lines(const std::string& text);
std::string bag_file_content(const std::filesystem::path& path);
/// A plain file, and not by way of a link.
bool is_bag_file(const std::filesystem::path& path);

}  // namespace switchwright
