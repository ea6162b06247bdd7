#include "switchwright/core/durable_file.hpp"

#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cerrno>
#include <cstdio>
#include <filesystem>
#include <utility>

#include "switchwright/core/error.hpp"

namespace switchwright {

namespace {

std::string next_after(int error_number) {
  if (error_number == ENOSPC || error_number == EDQUOT)
    return "free some space, then try again; what is in the record store is safe";
  if (error_number == ENOENT) return "create the folder first (mkdir -p), or name another file";
  if (error_number == EISDIR) return "this is a folder: name a file";
  return "check that the folder is yours to write, or name another file";
}

/// A link is followed, so that what it leads to is written and the link stays.
std::string real_target(const std::string& path) {
  std::error_code failed;
  if (!std::filesystem::is_symlink(std::filesystem::symlink_status(path, failed))) return path;
  const auto real = std::filesystem::canonical(path, failed);
  return failed ? path : real.string();
}

}  // namespace

DurableFile::DurableFile(std::string path) : path_(real_target(path)) {
  struct stat there {};
  const bool exists = ::stat(path_.c_str(), &there) == 0;
  if (exists && S_ISDIR(there.st_mode)) fail(EISDIR);
  if (exists && !S_ISREG(there.st_mode)) {
    file_ = ::open(path_.c_str(), O_WRONLY | O_CLOEXEC);
  } else {
    if (exists && ::access(path_.c_str(), W_OK) != 0) fail(errno);  // a file that was protected stays
    beside_ = path_ + ".part-" + std::to_string(::getpid());
    file_ = ::open(beside_.c_str(), O_WRONLY | O_CREAT | O_TRUNC | O_CLOEXEC, 0666);
  }
  if (file_ < 0) {
    const int error_number = errno;
    beside_.clear();
    fail(error_number);
  }
}

DurableFile::~DurableFile() {
  if (file_ >= 0) ::close(file_);
  if (!beside_.empty()) ::unlink(beside_.c_str());
}

void DurableFile::fail(int error_number) {
  throw Error(ErrorKind::store, "the file could not be written (" + system_error_text(error_number) + ")", path_,
              next_after(error_number));
}

void DurableFile::write(std::string_view bytes) {
  while (!bytes.empty()) {
    const auto n = ::write(file_, bytes.data(), bytes.size());
    if (n < 0 && errno == EINTR) continue;
    if (n < 0) fail(errno);
    bytes.remove_prefix(static_cast<std::size_t>(n));
  }
}

void DurableFile::keep() {
  // A pipe or a terminal cannot be synced and says EINVAL.
  if (::fsync(file_) != 0 && !(beside_.empty() && (errno == EINVAL || errno == EROFS))) fail(errno);
  if (::close(std::exchange(file_, -1)) != 0) fail(errno);
  if (beside_.empty()) return;
  if (std::rename(beside_.c_str(), path_.c_str()) != 0) fail(errno);
  beside_.clear();
  const std::filesystem::path target(path_);
  const auto folder = target.has_parent_path() ? target.parent_path().string() : std::string(".");
  const int directory = ::open(folder.c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC);
  if (directory < 0) return;
  const int error_number = ::fsync(directory) == 0 ? 0 : errno;
  ::close(directory);
  // Some file systems cannot sync a directory and say EINVAL; there is nothing better to do there.
  if (error_number != 0 && error_number != EINVAL) fail(error_number);
}

void write_file_durably(const std::string& path, const std::string& content) {
  DurableFile file(path);
  file.write(content);
  file.keep();
}

void require_writable(const std::string& path, const std::string& option) {
  struct stat there {};
  const bool exists = ::stat(path.c_str(), &there) == 0;
  if (exists && !S_ISREG(there.st_mode) && !S_ISDIR(there.st_mode) && ::access(path.c_str(), W_OK) == 0)
    return;  // opening a pipe would wait for its reader, and closing it end what the reader reads
  try {
    const DurableFile file(path);
  } catch (const Error& error) {
    throw Error(ErrorKind::usage, error.what_happened(), option + " " + error.where(), error.what_next());
  }
}

}  // namespace switchwright
