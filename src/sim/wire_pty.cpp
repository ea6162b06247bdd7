// The meter on a pseudo-terminal. Three traps decide whether this is a fair stand-in for a real line:
// - a terminal that is not raw when its name is given out echoes the first frames back and turns CR into NL;
// - without a slave descriptor of our own, the master reads end-of-file whenever the tool closes the port;
// - bytes that nobody reads pile up and greet the next reader with an old arrangement: a real line loses
// them.
#include <fcntl.h>
#include <sys/ioctl.h>
#include <termios.h>
#include <unistd.h>

#include <array>
#include <boost/asio/buffer.hpp>
#include <boost/asio/posix/stream_descriptor.hpp>
#include <cerrno>
#include <cstdlib>
#include <utility>

#include "core/loop_io.hpp"
#include "sim/wire.hpp"
#include "switchwright/core/error.hpp"

namespace switchwright::sim {

namespace {

namespace asio = boost::asio;

/// More unread bytes than this and nobody is listening.
constexpr int most_unread_bytes = 512;

[[noreturn]] void no_pty(int error_number) {
  throw Error(ErrorKind::meter, "no pseudo-terminal: " + system_error_text(error_number), "simulated meter",
              "use --link tcp");
}

class Descriptor {
 public:
  explicit Descriptor(int fd) : fd_(fd) {}
  ~Descriptor() {
    if (fd_ >= 0) ::close(fd_);
  }
  Descriptor(const Descriptor&) = delete;
  Descriptor& operator=(const Descriptor&) = delete;
  int get() const { return fd_; }
  int release() { return std::exchange(fd_, -1); }

 private:
  int fd_;
};

struct Line : std::enable_shared_from_this<Line> {
  Line(Loop& loop, Received on_received)
      : master(io_context_of(loop)), slave(open_pair()), received(std::move(on_received)) {}

  /// Opens both ends; the slave is raw and stays open so that the name means the same terminal until the end.
  int open_pair() {
    Descriptor fd{::posix_openpt(O_RDWR | O_NOCTTY | O_CLOEXEC | O_NONBLOCK)};
    if (fd.get() < 0 || ::grantpt(fd.get()) != 0 || ::unlockpt(fd.get()) != 0) no_pty(errno);
    std::array<char, 128> text{};
    if (const int error = ::ptsname_r(fd.get(), text.data(), text.size()); error != 0) no_pty(error);
    name = text.data();
    Descriptor other{::open(text.data(), O_RDWR | O_NOCTTY | O_CLOEXEC)};
    termios mode{};
    if (other.get() < 0 || ::tcgetattr(other.get(), &mode) != 0) no_pty(errno);
    ::cfmakeraw(&mode);
    if (::tcsetattr(other.get(), TCSANOW, &mode) != 0) no_pty(errno);
    master.assign(fd.release());
    return other.release();
  }

  void listen() {
    master.async_read_some(asio::buffer(buffer),
                           [self = shared_from_this()](const boost::system::error_code& error, std::size_t n) {
                             if (error || !self->received) return;
                             self->received(std::string_view{self->buffer.data(), n});
                             if (self->received) self->listen();
                           });
  }

  void send(std::string_view bytes) {
    // A tool that took the port for itself and was killed leaves it locked for as long as our slave is open.
    ::ioctl(slave.get(), TIOCNXCL);
    int unread = 0;
    if (::ioctl(slave.get(), FIONREAD, &unread) == 0 && unread > most_unread_bytes) ::tcflush(slave.get(), TCIFLUSH);
    if (::write(master.native_handle(), bytes.data(), bytes.size()) < 0) return;  // full: lost, as on a line
  }

  std::string name;
  asio::posix::stream_descriptor master;
  Descriptor slave;
  Received received;
  std::array<char, 4096> buffer{};
};

class PtyWire final : public Wire {
 public:
  PtyWire(Loop& loop, Received received) : line_(std::make_shared<Line>(loop, std::move(received))) { line_->listen(); }
  ~PtyWire() override {
    line_->received = nullptr;
    boost::system::error_code ignored;
    line_->master.close(ignored);
  }
  const std::string& port() const override { return line_->name; }
  void send(std::string_view bytes) override { line_->send(bytes); }

 private:
  std::shared_ptr<Line> line_;
};

}  // namespace

std::unique_ptr<Wire> pty_wire(Loop& loop, Received received) {
  return std::make_unique<PtyWire>(loop, std::move(received));
}

}  // namespace switchwright::sim
