#include "record/link_journal.hpp"

#include <fcntl.h>
#include <unistd.h>

#include <array>
#include <cerrno>
#include <cstdlib>

namespace switchwright {

namespace {

constexpr std::size_t few_bytes = 1U << 20U;
constexpr std::size_t too_many_bytes = 16U << 20U;  // in memory alone, when no place takes the file

int nameless_file() {
  const char* chosen = std::getenv("TMPDIR");
  for (const char* place : {chosen, "/var/tmp", "/tmp"}) {
    if (place == nullptr || *place == '\0') continue;
    const int file = ::open(place, O_TMPFILE | O_RDWR | O_CLOEXEC, 0600);
    if (file >= 0) return file;
    std::string name = std::string(place) + "/switchwright-XXXXXX";  // not every file system knows nameless files
    const int named = ::mkostemp(name.data(), O_CLOEXEC);
    if (named < 0) continue;
    ::unlink(name.c_str());
    return named;
  }
  return -1;
}

bool write_all(int file, std::string_view bytes) {
  while (!bytes.empty()) {
    const auto n = ::write(file, bytes.data(), bytes.size());
    if (n < 0 && errno == EINTR) continue;
    if (n < 0) return false;
    bytes.remove_prefix(static_cast<std::size_t>(n));
  }
  return true;
}

}  // namespace

LinkJournal::LinkJournal(LinkJournal&& other) noexcept
    : file_(other.file_), memory_(std::move(other.memory_)), no_file_(other.no_file_), whole_(other.whole_) {
  other.file_ = -1;
}

LinkJournal::~LinkJournal() {
  if (file_ >= 0) ::close(file_);
}

void LinkJournal::add(std::string_view line) {
  if (!whole_) return;
  memory_.append(line);
  memory_ += '\n';
  if (memory_.size() > few_bytes) spill();
}

void LinkJournal::spill() {
  if (file_ < 0 && !no_file_) {
    file_ = nameless_file();
    no_file_ = file_ < 0;
  }
  if (!no_file_) {
    const off_t end = ::lseek(file_, 0, SEEK_END);
    if (end >= 0 && write_all(file_, memory_)) {
      memory_.clear();
      return;
    }
    if (end < 0 || ::ftruncate(file_, end) != 0) whole_ = false;  // half a line must not stay
  }
  if (memory_.size() > too_many_bytes) whole_ = false;
  if (!whole_) memory_.clear();
}

bool LinkJournal::each(const std::function<void(std::string_view)>& take) const {
  if (!whole_) return false;
  std::string rest;
  const auto lines_of = [&] {
    std::size_t from = 0;
    for (auto to = rest.find('\n'); to != std::string::npos; to = rest.find('\n', from)) {
      take(std::string_view(rest).substr(from, to - from));
      from = to + 1;
    }
    rest.erase(0, from);
  };
  if (file_ >= 0) {
    std::string block(1U << 16U, '\0');
    for (off_t at = 0;;) {
      const auto n = ::pread(file_, block.data(), block.size(), at);
      if (n < 0 && errno == EINTR) continue;
      if (n < 0) return false;
      if (n == 0) break;
      at += n;
      rest.append(block, 0, static_cast<std::size_t>(n));
      lines_of();
    }
  }
  rest += memory_;
  lines_of();
  return rest.empty();
}

}  // namespace switchwright
