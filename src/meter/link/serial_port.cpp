#include "meter/link/serial_port.hpp"

#include <fcntl.h>
#include <fmt/format.h>
#include <linux/serial.h>
#include <poll.h>
#include <sys/file.h>
#include <sys/ioctl.h>
#include <sys/stat.h>
#include <sys/sysmacros.h>
#include <termios.h>

#include <algorithm>
#include <array>
#include <cerrno>
#include <filesystem>
#include <fstream>
#include <sstream>
#include <vector>

#include "switchwright/core/text.hpp"
#include "switchwright/meter/ports.hpp"

namespace switchwright {

namespace {

struct Speed {
  int baud;
  speed_t code;
};
constexpr std::array speeds{
    Speed{50, B50},         Speed{75, B75},           Speed{110, B110},       Speed{134, B134},
    Speed{150, B150},       Speed{200, B200},         Speed{300, B300},       Speed{600, B600},
    Speed{1200, B1200},     Speed{1800, B1800},       Speed{2400, B2400},     Speed{4800, B4800},
    Speed{9600, B9600},     Speed{19200, B19200},     Speed{38400, B38400},   Speed{57600, B57600},
    Speed{115200, B115200}, Speed{230400, B230400},   Speed{460800, B460800}, Speed{500000, B500000},
    Speed{921600, B921600}, Speed{1000000, B1000000},
};

Error failure(std::string what, const std::string& path, std::string next) {
  return Error(ErrorKind::meter, std::move(what), path, std::move(next));
}

speed_t speed_code(int baud, const std::string& path) {
  const auto* nearest = &speeds.front();
  for (const Speed& speed : speeds) {
    if (speed.baud == baud) return speed.code;
    if (std::abs(speed.baud - baud) < std::abs(nearest->baud - baud)) nearest = &speed;
  }
  throw failure(fmt::format("{} baud is not a speed that a serial port can be set to", baud), path,
                fmt::format("the nearest is {}: correct [link] baud in the meter definition", nearest->baud));
}

/// The whole line state, built from nothing so that no earlier user's setting survives.
termios line_state(const LinkSettings& settings, const std::string& path) {
  termios t{};
  t.c_cflag = CREAD | CLOCAL | HUPCL;
  switch (settings.data_bits) {
    case 5: t.c_cflag |= CS5; break;
    case 6: t.c_cflag |= CS6; break;
    case 7: t.c_cflag |= CS7; break;
    case 8: t.c_cflag |= CS8; break;
    default:
      throw failure(fmt::format("{} data bits are not possible on a serial line", settings.data_bits), path,
                    "use 5 to 8 in [link] data_bits of the meter definition");
  }
  if (settings.stop_bits != 1 && settings.stop_bits != 2)
    throw failure(fmt::format("{} stop bits are not possible on a serial line", settings.stop_bits), path,
                  "use 1 or 2 in [link] stop_bits of the meter definition");
  if (settings.stop_bits == 2) t.c_cflag |= CSTOPB;
  t.c_iflag = IGNBRK;
  if (settings.parity != Parity::none) {
    t.c_cflag |= PARENB | (settings.parity == Parity::odd ? PARODD : 0);
    t.c_iflag |= INPCK;  // a bad byte then reads as 0x00, which every decoder rejects
  }
  // With VMIN = 0 a quiet line would read as end-of-file. Time-outs are timers.
  t.c_cc[VMIN] = 1;
  t.c_cc[VTIME] = 0;
  const speed_t code = speed_code(settings.baud, path);
  cfsetispeed(&t, code);
  cfsetospeed(&t, code);
  return t;
}

constexpr tcflag_t checked_cflags = CSIZE | PARENB | PARODD | CSTOPB | CREAD;

/// Sets the line and reads it back: tcsetattr is content when any one of the settings took.
bool line_took(int fd, const termios& wanted) {
  if (tcsetattr(fd, TCSANOW, &wanted) != 0) return false;
  termios got{};
  return tcgetattr(fd, &got) == 0 && (got.c_cflag & checked_cflags) == (wanted.c_cflag & checked_cflags) &&
         cfgetospeed(&got) == cfgetospeed(&wanted) && (got.c_lflag & (ICANON | ECHO | ISIG)) == 0 &&
         got.c_cc[VMIN] == 1 && got.c_cc[VTIME] == 0;
}

std::vector<std::string> port_names() {
  std::vector<std::string> names;
  for (const PortInfo& port : list_ports()) {
    names.push_back(port.device);
    if (!port.by_id.empty()) names.push_back(port.by_id);
  }
  return names;
}

Error no_such_port(const std::string& path) {
  std::error_code ignored;
  if (path.find('/') == std::string::npos && std::filesystem::exists("/dev/" + path, ignored))
    return failure("no such port", path, "did you mean \"/dev/" + path + "\"?");
  const auto names = port_names();
  if (names.empty())
    return failure("no such port", path,
                   "this machine has no serial port at all: plug in the meter's cable, then run `switchwright ports`");
  const auto near = near_names(path, names);
  if (!near.empty()) return failure("no such port", path, "did you mean \"" + near.front() + "\"?");
  std::vector<std::string> devices;
  for (const PortInfo& port : list_ports()) devices.push_back(port.device);
  return failure("no such port", path, "the ports there are: " + joined_with_and(devices));
}

Error in_use(const std::string& path) {
  return failure("the port is in use by another program", path,
                 "close that program first: two programs on one meter tear its frames apart");
}

Error open_failure(int error, const std::string& path) {
  switch (error) {
    case ENOENT:
    case ENOTDIR: return no_such_port(path);
    case EACCES:
    case EPERM:
      return failure("no permission to open the port", path,
                     "add yourself to group dialout (sudo adduser $USER dialout) and log in again");
    case EBUSY:
    case EWOULDBLOCK: return in_use(path);
    case ENXIO:
    case ENODEV:
    case EIO:
      return failure("there is no device behind this port", path,
                     "plug the adapter in again, or pick another port with `switchwright ports`");
    default:
      return failure("the port cannot be opened: " + system_error_text(error), path,
                     "pick another port with `switchwright ports`");
  }
}

bool is_pseudo_terminal(const struct stat& about) {
  return S_ISCHR(about.st_mode) && major(about.st_rdev) >= 136 && major(about.st_rdev) <= 143;
}

/// A screen that a person sits at: a console, or a terminal window (a pseudo-terminal that is some process's
/// controlling terminal and has its interrupt key alive, which a meter's raw line has not). Taking it would
/// swallow what is typed; and a window may get the number that a fake meter had before.
bool is_somebodys_terminal(int fd, const struct stat& about) {
  const unsigned number = major(about.st_rdev);
  const unsigned line = minor(about.st_rdev);
  if (number == 5 && line <= 1) return true;  // /dev/tty, /dev/console
  if (number == 4) return line < 64;
  termios now{};
  if (!is_pseudo_terminal(about) || tcgetattr(fd, &now) != 0 || (now.c_lflag & ISIG) == 0) return false;
  const unsigned long tty_nr = (line & 0xFF) | number << 8 | (line & ~0xFFU) << 12;  // proc(5)
  std::error_code error;
  for (std::filesystem::directory_iterator it("/proc", error), end; !error && it != end; it.increment(error)) {
    std::ifstream stat_file(it->path() / "stat");
    std::string text;
    if (!stat_file || !std::getline(stat_file, text)) continue;
    // pid (comm) state ppid pgrp session tty_nr ...: the name may hold anything, so count from its end.
    std::istringstream fields(text.substr(std::min(text.rfind(')'), text.size() - 1) + 1));
    std::string word;
    unsigned long tty = 0;
    if (fields >> word >> word >> word >> word >> tty && tty == tty_nr) return true;
  }
  return false;
}

/// USB adapters hold bytes back for up to 16 ms unless asked not to. Optional: many drivers refuse.
void ask_for_low_latency(int fd) {
  serial_struct about{};
  if (ioctl(fd, TIOCGSERIAL, &about) != 0) return;
  about.flags |= ASYNC_LOW_LATENCY;
  ioctl(fd, TIOCSSERIAL, &about);
}

}  // namespace

std::string line_words(const LinkSettings& settings) {
  const char* parity = settings.parity == Parity::none ? "no" : settings.parity == Parity::odd ? "odd" : "even";
  return fmt::format("{} baud, {} data bits, {} parity, {} stop bit{}", settings.baud, settings.data_bits, parity,
                     settings.stop_bits, settings.stop_bits == 1 ? "" : "s");
}

SerialPort open_serial_port(const std::string& path, const LinkSettings& settings) {
  struct stat about {};
  if (::stat(path.c_str(), &about) != 0) throw open_failure(errno, path);
  if (S_ISREG(about.st_mode))
    throw failure("this is a file, not a serial port", path, "to play a capture back write replay:" + path);
  if (!S_ISCHR(about.st_mode))
    throw failure("this is not a serial port", path, "pick a port with `switchwright ports`");

  SerialPort port;
  port.pseudo_terminal = is_pseudo_terminal(about);
  port.fd = Descriptor{::open(path.c_str(), O_RDWR | O_NOCTTY | O_NONBLOCK | O_CLOEXEC)};
  if (!port.fd) throw open_failure(errno, path);
  const int fd = port.fd.get();
  if (::isatty(fd) == 0) {
    if (errno == EIO) throw open_failure(EIO, path);
    throw failure("this is not a serial port", path, "pick a port with `switchwright ports`");
  }
  if (is_somebodys_terminal(fd, about))
    throw failure("this is a terminal that somebody works in, not a meter's port", path,
                  "pick a port with `switchwright ports`");
  if (flock(fd, LOCK_EX | LOCK_NB) != 0) throw open_failure(errno, path);
  // On a pseudo-terminal the mark would outlive a killed program for as long as the other side keeps the pair
  // open.
  if (!port.pseudo_terminal && ioctl(fd, TIOCEXCL) != 0 && errno == EBUSY) throw in_use(path);

  const termios wanted = line_state(settings, path);
  if (!line_took(fd, wanted)) {
    if (errno == EIO) throw open_failure(EIO, path);
    const bool unusual = settings.data_bits != 8 || settings.parity != Parity::none;
    LinkSettings plain = settings;
    plain.data_bits = 8;
    plain.parity = Parity::none;
    if (!port.pseudo_terminal || !unusual || !line_took(fd, line_state(plain, path)))
      throw failure("the port refuses " + line_words(settings), path,
                    "use an adapter that can do it, or check [link] in the meter definition");
  }
  if (!port.pseudo_terminal) ask_for_low_latency(fd);
  set_modem_lines(fd, settings);
  return port;
}

void set_modem_lines(int fd, const LinkSettings& settings) {
  const auto set = [fd](int line, const std::optional<bool>& raised) {
    if (raised) ioctl(fd, *raised ? TIOCMBIS : TIOCMBIC, &line);
  };
  set(TIOCM_DTR, settings.dtr);
  set(TIOCM_RTS, settings.rts);
}

bool serial_port_gone(int fd, const std::string& path) {
  termios t{};
  struct stat about {};
  if (tcgetattr(fd, &t) != 0 || ::stat(path.c_str(), &about) != 0) return true;
  pollfd p{fd, POLLIN, 0};
  return ::poll(&p, 1, 0) > 0 && (p.revents & (POLLHUP | POLLERR)) != 0;
}

void close_serial_port(Descriptor fd, bool pseudo_terminal) {
  if (!fd) return;
  // A stop command still in the queue gets a moment to leave. tcdrain() would hang on a dead peer, and so
  // does close() while bytes are unsent: they are thrown away first. A pseudo-terminal's peer reads them
  // later: leave them there.
  if (!pseudo_terminal) {
    int unsent = 0;
    for (int waited_ms = 0; waited_ms < 200; waited_ms += 10) {
      if (ioctl(fd.get(), TIOCOUTQ, &unsent) != 0 || unsent == 0) break;
      ::poll(nullptr, 0, 10);
    }
    ioctl(fd.get(), TIOCNXCL);
    tcflush(fd.get(), unsent > 0 ? TCIOFLUSH : TCIFLUSH);
  }
  fd.close();
}

}  // namespace switchwright
