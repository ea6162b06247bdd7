#include "page/archive.hpp"

#include <algorithm>
#include <array>
#include <cstdio>
#include <cstring>
#include <fstream>
#include <sstream>
#include <vector>

#include "switchwright/core/error.hpp"

namespace switchwright::page {

namespace fs = std::filesystem;

namespace {

constexpr std::size_t block = 512;
constexpr std::size_t longest_name = 100;

void put_octal(char* field, std::size_t width, unsigned long long value) {
  std::snprintf(field, width, "%0*llo", static_cast<int>(width - 1), value);
}

//  0 name[100]  100 mode[8]  108 uid[8]  116 gid[8]  124 size[12]  136 mtime[12]  148 checksum[8]  156 type
//  157 link[100]  257 "ustar\0" "00"  265 user[32]  297 group[32]  329 major[8]  337 minor[8]  345 prefix[155]
std::string header(const std::string& name, std::size_t size, bool folder) {
  if (name.size() > longest_name) throw Error(ErrorKind::store, "the name is too long for the archive", name);
  std::array<char, block> h{};
  std::memcpy(h.data(), name.data(), name.size());
  put_octal(&h[100], 8, folder ? 0755 : 0644);
  put_octal(&h[108], 8, 0);
  put_octal(&h[116], 8, 0);
  put_octal(&h[124], 12, size);
  put_octal(&h[136], 12, 0);
  std::memset(&h[148], ' ', 8);
  h[156] = folder ? '5' : '0';
  std::memcpy(&h[257], "ustar", 6);
  std::memcpy(&h[263], "00", 2);
  unsigned sum = 0;
  for (const char c : h) sum += static_cast<unsigned char>(c);
  std::snprintf(&h[148], 8, "%06o", sum);  // six digits, a zero, a blank
  return {h.data(), h.size()};
}

std::string content_of(const fs::path& path) {
  std::ifstream file{path, std::ios::binary};
  std::ostringstream content;
  content << file.rdbuf();
  if (!file) throw Error(ErrorKind::store, "cannot be read", path.string());
  return content.str();
}

}  // namespace

std::string tar_of(const fs::path& parent, const std::string& name) {
  std::vector<fs::path> paths{parent / name};
  for (const auto& entry : fs::recursive_directory_iterator(parent / name)) paths.push_back(entry.path());
  std::sort(paths.begin(), paths.end());
  std::string tar;
  for (const fs::path& path : paths) {
    const std::string inside = path.lexically_relative(parent).generic_string();
    if (fs::is_directory(path)) {
      tar += header(inside + "/", 0, true);
      continue;
    }
    const std::string content = content_of(path);
    tar += header(inside, content.size(), false) + content;
    tar.append((block - content.size() % block) % block, '\0');
  }
  return tar.append(2 * block, '\0');
}

}  // namespace switchwright::page
