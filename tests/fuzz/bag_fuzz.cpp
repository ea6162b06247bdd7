// A bag or an archive from a stranger: the first byte picks a file of a whole bag, the rest stands in its place; 255: the rest
// is an archive. The check says what is wrong; a bag that differs from the whole one in any byte is never called whole.
#include <algorithm>
#include <cstdint>
#include <cstdlib>
#include <fstream>
#include <iterator>
#include <string>
#include <vector>

#include "record/example.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/report/archive.hpp"
#include "switchwright/report/bag.hpp"

namespace {

using namespace switchwright;
namespace fs = std::filesystem;

std::string content(const fs::path& path) {
  std::ifstream file(path, std::ios::binary);
  return {std::istreambuf_iterator<char>(file), {}};
}

void write(const fs::path& path, const std::string& bytes) { std::ofstream(path, std::ios::binary) << bytes; }

struct Bagged {
  example::Folder folder;
  std::vector<fs::path> files;
  fs::path bag;
  Bagged() : bag(folder / "bag") {
    Store store(folder / "records.sqlite");
    const std::string id = example::write_whole_record(store);
    write_bag([&](const std::function<void(const std::string&)>& take) { store.each_link(id, take); }, bag);
    for (const auto& entry : fs::recursive_directory_iterator(bag))
      if (entry.is_regular_file()) files.push_back(entry.path());
    std::sort(files.begin(), files.end());
  }
};

template <class Read>
void error_or_answer(Read read) {
  try {
    read();
  } catch (const Error& error) {
    if (error.kind() != ErrorKind::usage && error.kind() != ErrorKind::store) std::abort();
  }
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  static Bagged& made = *new Bagged;
  if (size == 0) return 0;
  const std::string bytes(reinterpret_cast<const char*>(data) + 1, size - 1);
  if (data[0] == 255) {
    const example::Folder folder;
    fs::create_directory(folder / "in");
    write(folder / "archive", bytes);
    error_or_answer([&] {
      const fs::path bag = unpack_archive(folder / "archive", folder / "in", {1U << 20U, 50});
      (void)check_bag(bag, {}, false);
    });
    // Nothing lies anywhere but where it was to be unpacked.
    for (const auto& entry : fs::directory_iterator(folder.path()))
      if (entry.path().filename() != "in" && entry.path().filename() != "archive") std::abort();
    return 0;
  }
  const fs::path& file = made.files[data[0] % made.files.size()];
  const std::string before = content(file);
  write(file, bytes);
  error_or_answer([&] {
    const BagReport found = check_bag(made.bag, {}, false);
    // The topmost manifest may be written in other words that mean the same; what it names may not differ by a byte.
    if (found.problems.empty() && bytes != before && file.filename() != "tagmanifest-sha256.txt") std::abort();
  });
  write(file, before);
  return 0;
}
