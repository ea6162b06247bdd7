#include "cli/view/keyboard.hpp"

#include <termios.h>
#include <unistd.h>

#include <array>
#include <boost/asio/buffer.hpp>
#include <boost/asio/posix/stream_descriptor.hpp>

#include "core/loop_io.hpp"

namespace switchwright::cli {

namespace asio = boost::asio;

struct Keyboard::Impl : std::enable_shared_from_this<Keyboard::Impl> {
  explicit Impl(Loop& loop) : input(io_context_of(loop), ::dup(STDIN_FILENO)) {}

  void wait() {
    input.async_read_some(asio::buffer(bytes), [self = shared_from_this()](const boost::system::error_code& error, std::size_t n) {
      if (!self->live) return;
      if (error) {
        self->closed();
        return;
      }
      for (std::size_t i = 0; i < n && self->live; ++i) self->key(self->bytes[i] == '\r' ? '\n' : self->bytes[i]);
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
