// Meters whose cable is no serial port for the system: a UART inside a HID device, and USBTMC. After an unplug the
// device may come back under another number and is looked for by its USB identity, as a serial adapter is.
#include <fmt/format.h>

#include <algorithm>
#include <optional>

#include "meter/link/device_pump.hpp"
#include "meter/link/port_again.hpp"
#include "meter/link/ports_watch.hpp"
#include "meter/link/raw_endpoint.hpp"
#include "meter/link/serial_port.hpp"
#include "switchwright/core/error.hpp"

namespace switchwright {

namespace {

constexpr std::chrono::milliseconds last_words{700};  ///< for the stop commands to go out
constexpr unsigned shortest_timeout_ms = 500;         ///< of the kernel's usbtmc driver

class RawEndpoint final : public Endpoint {
 public:
  RawEndpoint(std::string port, MeterDefinition definition, RawDeviceOpener opener)
      : name_(std::move(port)), definition_(std::move(definition)), opener_(std::move(opener)) {}

  Descriptor open() override {
    Descriptor line = open_at(name_);
    identity_ = port_behind(name_, list_ports());
    return line;
  }
  boost::asio::awaitable<Descriptor> reopen() override {
    const std::string port =
        identity_ ? port_again(*identity_, shared_ports_watch().ports(std::chrono::steady_clock::now())) : name_;
    if (port.empty()) throw Error(ErrorKind::meter, "the adapter is not plugged in", name_);
    Descriptor line = open_at(port);
    name_ = port;
    co_return std::move(line);
  }

  const std::string& name() const override { return name_; }
  void hang_up(Descriptor fd) override { end_pump(std::move(fd), ended_, last_words); }
  std::string loss_advice() const override { return "put the cable back"; }
  std::string silence_advice() const override {
    return is_hid() ? "check that the meter is on, its data button is pressed and the cable sits straight on it"
                    : "check that the meter is on and set to remote control over USB";
  }

 private:
  bool is_hid() const { return name_.starts_with("hid:"); }

  Descriptor open_at(const std::string& port) {
    const std::string path = port.substr(port.find(':') + 1);
    std::shared_ptr<RawDevice> device = opener_(path);
    Pump pump = is_hid() ? open_hid(std::move(device), path) : open_usbtmc(std::move(device));
    ended_ = std::move(pump.ended);
    return std::move(pump.loop_side);
  }

  Pump open_hid(std::shared_ptr<RawDevice> device, const std::string& path) const {
    const auto kind = hid_bridge_kind(device->report_descriptor());
    if (!kind)
      throw Error(ErrorKind::meter, "this HID device is not one of the two kinds of UART bridge known here", path,
                  "`switchwright ports` lists those that are");
    HidBridge bridge{*kind, definition_.link};
    const bool speaks = definition_.poll || !definition_.start_commands.empty() || !definition_.functions.empty();
    if (speaks && !bridge.can_send())
      throw Error(ErrorKind::usage, "a meter that must be asked cannot be used through this kind of HID adapter", path,
                  "how bytes are sent through it is not known; a meter that sends by itself works");
    for (const std::string& report : bridge.set_up())
      if (device->set_feature(report) < 0)
        throw Error(ErrorKind::meter, "the adapter does not let itself be set up: " + system_error_text(errno), path,
                    "unplug it and put it back");
    const unsigned char number = bridge.asked_back();
    if (number != 0 && !bridge.took_settings(device->get_feature(number, 9)))
      throw Error(ErrorKind::meter, "the adapter did not take " + line_words(definition_.link), path,
                  "the [link] part of the meter definition does not fit this cable");
    return start_pump(std::move(device), [bridge](RawDevice& raw, int line) { pump_hid(raw, bridge, line); });
  }

  Pump open_usbtmc(std::shared_ptr<RawDevice> device) const {
    const auto wanted_ms = static_cast<unsigned>(1000.0 * std::min(600.0, definition_.poll->timeout_s));
    (void)device->set_timeout_ms(std::max(shortest_timeout_ms, wanted_ms));
    (void)device->clear();  // an answer that nobody fetched would be taken for the next one
    return start_pump(std::move(device), pump_usbtmc);
  }

  std::string name_;
  MeterDefinition definition_;
  RawDeviceOpener opener_;
  std::optional<PortInfo> identity_;
  std::future<void> ended_;
};

}  // namespace

std::unique_ptr<Endpoint> make_raw_endpoint(const std::string& port, const MeterDefinition& definition,
                                            RawDeviceOpener opener) {
  if (port.back() == ':')
    throw Error(ErrorKind::usage, "no device is named", port, "write it like hid:/dev/hidraw0 or usbtmc:/dev/usbtmc0");
  if (port.starts_with("usbtmc:") && (!definition.poll || definition.decoder.kind != "scpi"))
    throw Error(ErrorKind::usage, definition.id + " does not speak SCPI, and USBTMC carries nothing else here", port,
                "use --meter scpi or a definition that is based on it");
  return std::make_unique<RawEndpoint>(port, definition, std::move(opener));
}

}  // namespace switchwright
