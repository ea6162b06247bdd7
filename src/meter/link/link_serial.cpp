// A meter on a serial device. After an unplug the kernel may give it another number, so it is looked for by
// its stable name and its USB identity; a different adapter that took over the old number is left alone.
#include <termios.h>
#include <unistd.h>

#include "meter/link/endpoint.hpp"
#include "meter/link/port_again.hpp"
#include "meter/link/ports_watch.hpp"
#include "meter/link/serial_port.hpp"

namespace switchwright {

namespace {

class SerialEndpoint final : public Endpoint {
 public:
  SerialEndpoint(std::string path, LinkSettings settings)
      : given_(std::move(path)), path_(given_), settings_(settings) {}

  Descriptor open() override {
    SerialPort port = open_serial_port(path_, settings_);
    pseudo_terminal_ = port.pseudo_terminal;
    identity_ = port_behind(path_, list_ports());
    return std::move(port.fd);
  }

  boost::asio::awaitable<Descriptor> reopen() override {
    const std::string path =
        identity_ ? port_again(*identity_, shared_ports_watch().ports(std::chrono::steady_clock::now())) : given_;
    // Asked first because it is cheap: the full reason, with the ports there are, is for the first opening.
    if (path.empty() || ::access(path.c_str(), F_OK) != 0)
      throw Error(ErrorKind::meter, "the adapter is not plugged in", path_);
    SerialPort port = open_serial_port(path, settings_);
    path_ = path;
    pseudo_terminal_ = port.pseudo_terminal;
    co_return std::move(port.fd);
  }

  const std::string& name() const override { return path_; }

  // Linux raises DTR and RTS for a moment on open, which makes some adapters' opto-couplers chatter. A
  // pseudo-terminal has no such lines.
  std::chrono::milliseconds settle_time() const override {
    return std::chrono::milliseconds{pseudo_terminal_ ? 0 : 100};
  }
  std::chrono::milliseconds slowest_retry() const override { return std::chrono::milliseconds{500}; }
  void discard_input(int fd) override { tcflush(fd, TCIFLUSH); }
  bool gone(int fd) override { return serial_port_gone(fd, path_); }
  bool still_there(int fd) override { return !serial_port_gone(fd, path_); }
  void hang_up(Descriptor fd) override { close_serial_port(std::move(fd), pseudo_terminal_); }
  std::string loss_advice() const override { return "put the cable back"; }
  std::string silence_advice() const override {
    return "check that the meter is on, its data button is pressed and the cable and adapter are fully "
           "seated";
  }

 private:
  std::string given_;
  std::string path_;
  LinkSettings settings_;
  std::optional<PortInfo> identity_;
  bool pseudo_terminal_ = false;
};

}  // namespace

std::unique_ptr<Endpoint> make_serial_endpoint(const std::string& path, const LinkSettings& settings) {
  return std::make_unique<SerialEndpoint>(path, settings);
}

}  // namespace switchwright
