#include "switchwright/report/archive.hpp"

#include <archive.h>
#include <archive_entry.h>
#include <fmt/format.h>

#include <array>
#include <fstream>
#include <memory>
#include <set>

#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"

namespace switchwright {

namespace fs = std::filesystem;

namespace {

class Unpacking {
 public:
  Unpacking(const fs::path& archive, const fs::path& folder, const ArchiveLimits& limits)
      : archive_(archive), folder_(folder), limits_(limits), reader_(archive_read_new()) {
    archive_read_support_format_tar(reader_.get());
    archive_read_support_format_zip(reader_.get());
    archive_read_support_filter_gzip(reader_.get());
    archive_read_support_filter_none(reader_.get());
    if (archive_read_open_filename(reader_.get(), archive.c_str(), 65536) != ARCHIVE_OK)
      refuse("is no .tar, .tar.gz or .zip that can be read (" + said() + ")");
  }

  void run() {
    archive_entry* entry = nullptr;
    for (;;) {
      const int next = archive_read_next_header(reader_.get(), &entry);
      if (next == ARCHIVE_EOF) break;
      if (next != ARCHIVE_OK) refuse("is damaged (" + said() + ")");
      take(entry);
    }
    if (files_ == 0) refuse("holds no file");
  }

 private:
  struct Free {
    void operator()(archive* reader) const { archive_read_free(reader); }
  };

  [[noreturn]] void refuse(const std::string& what) const {
    throw Error(ErrorKind::store, "the archive " + what, archive_.string(),
                "do not unpack it; ask for the bag again from its source");
  }

  std::string said() const {
    const char* words = archive_error_string(reader_.get());
    return words == nullptr ? "no reason is given" : terminal_safe(words);
  }

  void take(archive_entry* entry) {
    const char* raw = archive_entry_pathname(entry);
    const std::string name = raw == nullptr ? "" : raw;
    const std::string shown = "\"" + terminal_safe(name.substr(0, 120)) + "\"";
    if (name.empty()) refuse("holds an entry without a name");
    if (name.front() == '/' || name.find('\\') != std::string::npos || (name.size() > 1 && name[1] == ':'))
      refuse("holds " + shown + ", which is a place of its own and not one inside the bag");
    const fs::path path = fs::path(name).lexically_normal();
    for (const fs::path& part : fs::path(name))
      if (part == "..") refuse("holds " + shown + ", which leads out of the bag");
    if (archive_entry_hardlink(entry) != nullptr || archive_entry_symlink(entry) != nullptr ||
        archive_entry_filetype(entry) == AE_IFLNK)
      refuse("holds the link " + shown + "; an evidence bag holds everything itself");
    if (archive_entry_is_encrypted(entry) != 0) refuse("is encrypted at " + shown + "; ask for it without a password");
    if (archive_entry_filetype(entry) == AE_IFDIR) return folder(path, shown);
    if (archive_entry_filetype(entry) != AE_IFREG) refuse("holds " + shown + ", which is neither a file nor a folder");
    if (!names_.insert(path.string()).second) refuse("holds " + shown + " twice");
    if (++files_ > limits_.files) refuse(fmt::format("holds more than {} files", limits_.files));
    if (archive_entry_size_is_set(entry) != 0 &&
        static_cast<std::uint64_t>(std::max<std::int64_t>(0, archive_entry_size(entry))) > limits_.bytes - bytes_)
      too_large();
    folder(path.parent_path(), shown);
    write(folder_ / path, shown);
  }

  [[noreturn]] void too_large() const { refuse(fmt::format("unpacks to more than {} MiB", limits_.bytes >> 20)); }

  void folder(const fs::path& path, const std::string& shown) {
    std::error_code failed;
    fs::create_directories(folder_ / path, failed);
    if (failed) refuse("cannot be unpacked at " + shown + " (" + failed.message() + ")");
  }

  void write(const fs::path& place, const std::string& shown) {
    std::ofstream out(place, std::ios::binary);
    std::array<char, 65536> block;
    for (;;) {
      const la_ssize_t got = archive_read_data(reader_.get(), block.data(), block.size());
      if (got == 0) break;
      if (got < 0) refuse("is damaged at " + shown + " (" + said() + ")");
      bytes_ += static_cast<std::uint64_t>(got);
      if (bytes_ > limits_.bytes) too_large();
      out.write(block.data(), got);
    }
    out.close();
    if (!out) refuse("cannot be unpacked at " + shown + " (the disk takes no more)");
  }

  fs::path archive_, folder_;
  ArchiveLimits limits_;
  std::unique_ptr<archive, Free> reader_;
  std::set<std::string> names_;
  std::uint64_t files_ = 0, bytes_ = 0;
};

}  // namespace

fs::path unpack_archive(const fs::path& archive, const fs::path& folder, const ArchiveLimits& limits) {
  Unpacking(archive, folder, limits).run();
  if (fs::exists(folder / "bagit.txt")) return folder;
  fs::path only;
  int inside = 0;
  for (const auto& entry : fs::directory_iterator(folder)) {
    ++inside;
    if (entry.is_directory()) only = entry.path();
  }
  if (inside == 1 && !only.empty() && fs::exists(only / "bagit.txt")) return only;
  throw Error(ErrorKind::store, "the archive holds no bag: there is no bagit.txt at its top or in its only folder",
              archive.string(), "pack the folder that holds bagit.txt");
}

}  // namespace switchwright
