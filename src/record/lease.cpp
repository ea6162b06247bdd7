#include "record/lease.hpp"

#include <fcntl.h>
#include <unistd.h>

#include <cerrno>
#include <cstdint>

#include "switchwright/core/error.hpp"
#include "switchwright/record/sha256.hpp"

namespace switchwright {

namespace {

/// Benches that reach one store by different links must meet at one lock.
std::filesystem::path lock_file(const std::filesystem::path& store) {
  std::error_code failed;
  const auto real = std::filesystem::canonical(store, failed);
  return (failed ? store : real).string() + "-lock";
}

/// The byte that stands for the record: 60 bits of a hash, so that two records share one practically never.
struct flock byte_of(const std::string& record_id) {
  struct flock lock {};
  lock.l_type = F_WRLCK;
  lock.l_whence = SEEK_SET;
  lock.l_start = static_cast<off_t>(std::stoull(sha256_hex(record_id).substr(0, 15), nullptr, 16));
  lock.l_len = 1;
  return lock;
}

}  // namespace

RecordLease::RecordLease(const std::filesystem::path& store, const std::string& record_id) {
  const auto path = lock_file(store);
  file_ = ::open(path.c_str(), O_RDWR | O_CREAT | O_CLOEXEC, 0666);
  if (file_ < 0)
    throw Error(ErrorKind::store,
                "the lock beside the record store cannot be opened (" + system_error_text(errno) + ")", path.string(),
                "make the folder of the store writable for you, or name another store with --store PATH");
  struct flock lock = byte_of(record_id);
  if (::fcntl(file_, F_OFD_SETLK, &lock) == 0) return;
  const int why = errno;
  if (why != EAGAIN && why != EACCES) return;  // no locks on this file system: the check of the chain's end must do
  ::close(file_);
  throw Error(ErrorKind::store, "record " + record_id + " is being written by another switchwright", store.string(),
              "let that one end, or begin a new record");
}

RecordLease::RecordLease(RecordLease&& other) noexcept : file_(other.file_) { other.file_ = -1; }

RecordLease::~RecordLease() {
  if (file_ >= 0) ::close(file_);
}

bool RecordLease::is_taken(const std::filesystem::path& store, const std::string& record_id) {
  const int file = ::open(lock_file(store).c_str(), O_RDWR | O_CLOEXEC);
  if (file < 0) return false;
  struct flock lock = byte_of(record_id);
  const bool taken = ::fcntl(file, F_OFD_GETLK, &lock) == 0 && lock.l_type != F_UNLCK;
  ::close(file);
  return taken;
}

}  // namespace switchwright
