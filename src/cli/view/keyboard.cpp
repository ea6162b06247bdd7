#include "cli/view/keyboard.hpp"

#include <fcntl.h>
#include <termios.h>
#include <unistd.h>

#include <array>
#include <boost/asio/buffer.hpp>
#include <boost/asio/posix/stream_descriptor.hpp>

#include "core/loop_io.hpp"

namespace switchwright::cli {

namespace asio = boost::asio;

namespace {

/// Reading without waiting is a property of the open file, not of the descriptor. A terminal's standard input and output are
/// mostly one open file: taken over as it is, writing would not wait either, and a terminal stopped with Ctrl-S would look like
/// one that broke. So the terminal is opened once more.
int input_of_its_own() {
  if (const char* name = ::ttyname(STDIN_FILENO)) {
    const int fd = ::open(name, O_RDONLY | O_NOCTTY | O_CLOEXEC);
    if (fd >= 0) return fd;
  }
  return ::dup(STDIN_FILENO);
}

}  // namespace

struct Keyboard::Impl : std::enable_shared_from_this<Keyboard::Impl> {
  explicit Impl(Loop& loop) : input(io_context_of(loop), input_of_its_own()) {}

  void wait() {
    input.async_read_some(asio::buffer(bytes),
                          [self = shared_from_this()](const boost::system::error_code& error, std::size_t n) {
                            if (!self->live) return;
                            if (error) {
                              self->closed();
                              return;
                            }
                            for (std::size_t i = 0; i < n && self->live; ++i)
                              self->key(self->bytes[i] == '\r' ? '\n' : self->bytes[i]);
                            if (self->live) self->wait();
                          });
  }

  asio::posix::stream_descriptor input;
  std::array<char, 64> bytes{};
  std::function<void(char)> key;
  std::function<void()> closed;
  bool live = true;
  bool raw = false;
  termios before{};
};

Keyboard::Keyboard(Loop& loop, std::function<void(char)> key, std::function<void()> closed)
    : impl_(std::make_shared<Impl>(loop)) {
  impl_->key = std::move(key);
  impl_->closed = std::move(closed);
  if (::tcgetattr(STDIN_FILENO, &impl_->before) == 0) {
    termios raw = impl_->before;
    raw.c_lflag &= ~static_cast<tcflag_t>(ICANON | ECHO);
    raw.c_cc[VMIN] = 1;
    raw.c_cc[VTIME] = 0;
    impl_->raw = ::tcsetattr(STDIN_FILENO, TCSANOW, &raw) == 0;
  }
  impl_->wait();
}

Keyboard::~Keyboard() {
  impl_->live = false;
  boost::system::error_code ignored;
  impl_->input.cancel(ignored);
  if (impl_->raw) ::tcsetattr(STDIN_FILENO, TCSANOW, &impl_->before);
}

}  // namespace switchwright::cli
