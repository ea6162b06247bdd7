#include "record/store_watch.hpp"

#include <fcntl.h>
#include <sqlite3.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cerrno>
#include <string_view>

#include "switchwright/record/store.hpp"

namespace switchwright {

namespace {

[[noreturn]] void lost(const std::string& what, const std::string& path) {
  throw StoreLost(what, path, "find out who did it; what was measured is put aside");
}

/// The database file as SQLite holds it open. Opening it once more would, on closing, take back SQLite's own locks.
sqlite3_file* open_file(const Database& database) {
  sqlite3_file* file = nullptr;
  const int code = sqlite3_file_control(database.handle(), "main", SQLITE_FCNTL_FILE_POINTER, &file);
  if (code != SQLITE_OK || file == nullptr || file->pMethods == nullptr) database.fail(SQLITE_IOERR);
  return file;
}

std::string bytes_at(const Database& database, std::int64_t offset, std::int64_t count) {
  sqlite3_file* file = open_file(database);
  std::string bytes(static_cast<std::size_t>(count), '\0');
  const int code = file->pMethods->xRead(file, bytes.data(), static_cast<int>(count), offset);
  return code == SQLITE_OK ? bytes : std::string{};
}

}  // namespace

StoreWatch::StoreWatch(const Database& database) : database_(database) {
  const std::string path = database.path().string();
  files_ = {File{path}, File{path + "-wal"}, File{path + "-shm"}};
  page_size_ = database.number("PRAGMA page_size");
  identity_page_ = database.number("SELECT rootpage FROM sqlite_schema WHERE name = 'store_identity'");
  Statement identity(database, "SELECT identity FROM store_identity");
  if (identity.step()) identity_ = identity.text(0);
  look();
}

void StoreWatch::look() {
  for (File& file : files_) look_at(file);
  look_inside();
  if (holds_identity())
    identity_on_disk_ = true;
  else if (identity_on_disk_)
    lost("the record store was overwritten by another file while it was in use", files_[0].path);
}

void StoreWatch::look_at(File& file) const {
  struct stat now {};
  if (::stat(file.path.c_str(), &now) != 0) {
    const bool gone = errno == ENOENT || errno == ENOTDIR;
    if (gone && file.seen) lost("the record store was deleted or moved away while it was in use", file.path);
    return;  // not made yet, or out of reach for a moment: the write itself will tell
  }
  if (file.seen && (file.device != now.st_dev || file.number != now.st_ino))
    lost("the record store was replaced by another file while it was in use", file.path);
  file.seen = true;
  file.device = now.st_dev;
  file.number = now.st_ino;
}

void StoreWatch::look_inside() const {
  // The database never shrinks: nothing here is ever given back to the disk.
  sqlite3_file* file = open_file(database_);
  sqlite3_int64 size = 0;
  if (file->pMethods->xFileSize(file, &size) != SQLITE_OK) return;
  if (size < largest_) lost("the record store was cut short while it was in use", files_[0].path);
  largest_ = size;
  constexpr std::string_view magic{"SQLite format 3\0", 16};
  if (size > 0 && bytes_at(database_, 0, 16) != magic)
    lost("the record store was overwritten while it was in use", files_[0].path);
  // A log whose beginning is gone is a log that nobody can read back.
  const int log = ::open(files_[1].path.c_str(), O_RDONLY | O_CLOEXEC);
  if (log < 0) return;
  unsigned char first[4] = {};
  const auto got = ::read(log, first, sizeof first);
  ::close(log);
  const bool begun = first[0] == 0x37 && first[1] == 0x7f && first[2] == 0x06 && (first[3] | 1U) == 0x83;
  if (got == sizeof first && !begun)
    lost("the log of the record store was cut short while it was in use", files_[1].path);
}

bool StoreWatch::holds_identity() const {
  if (identity_.empty() || identity_page_ < 1) return false;
  return bytes_at(database_, (identity_page_ - 1) * page_size_, page_size_).find(identity_) != std::string::npos;
}

}  // namespace switchwright
