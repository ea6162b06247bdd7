// A file that is either the old one or the new one, whole, whatever happens meanwhile: written beside the
// target, synced, renamed over it, and the directory synced so that the rename itself lasts.
#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cerrno>
#include <cstdio>
#include <filesystem>

#include "switchwright/core/durable_file.hpp"
#include "switchwright/core/error.hpp"

namespace switchwright {

namespace {

[[noreturn]] void fail(const std::string& path, int error_number) {
  std::string next = "check that the folder is yours to write, or name another file with -o FILE";
  if (error_number == ENOSPC || error_number == EDQUOT)
    next = "free some space, then try again; the record itself is safe in the store";
  if (error_number == ENOENT) next = "create the folder first (mkdir -p), or name another file with -o FILE";
  throw Error(ErrorKind::store, "the file could not be written (" + system_error_text(error_number) + ")",
              path, next);
}

/// Closes on the way out.
class Descriptor {
 public:
  explicit Descriptor(int number) : number_(number) {}
  ~Descriptor() {
    if (number_ >= 0) ::close(number_);
  }
  Descriptor(const Descriptor&) = delete;
  Descriptor& operator=(const Descriptor&) = delete;
  int number() const { return number_; }
  int close() {
    const int number = number_;
    number_ = -1;
    return ::close(number);
  }

 private:
  int number_;
};

}  // namespace

void write_file_durably(const std::string& path, const std::string& content) {
  const std::filesystem::path target(path);
  const std::string beside = path + ".part-" + std::to_string(::getpid());
  Descriptor file(::open(beside.c_str(), O_WRONLY | O_CREAT | O_TRUNC | O_CLOEXEC, 0666));
  if (file.number() < 0) fail(path, errno);
  const auto give_up = [&](int error_number) {
    ::unlink(beside.c_str());
    fail(path, error_number);
  };
  for (std::size_t written = 0; written < content.size();) {
    const auto n = ::write(file.number(), content.data() + written, content.size() - written);
    if (n < 0 && errno == EINTR) continue;
    if (n < 0) give_up(errno);
    written += static_cast<std::size_t>(n);
  }
  if (::fsync(file.number()) != 0) give_up(errno);
  if (file.close() != 0) give_up(errno);
  if (std::rename(beside.c_str(), path.c_str()) != 0) give_up(errno);
  const auto folder = target.has_parent_path() ? target.parent_path().string() : std::string(".");
  const Descriptor directory(::open(folder.c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC));
  // Some file systems cannot sync a directory and say EINVAL; there is nothing better to do there.
  if (directory.number() >= 0 && ::fsync(directory.number()) != 0 && errno != EINVAL) fail(path, errno);
}

}  // namespace switchwright
