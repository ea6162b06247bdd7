// The one seam under the links that are no serial port: what the kernel's hidraw and usbtmc devices can do, and
// nothing else. Everything above it is the same with a socket pair in the kernel's place, as the tests have it.
#pragma once

#include <sys/types.h>

#include <cstddef>
#include <functional>
#include <memory>
#include <string>
#include <string_view>

namespace switchwright {

/// Calls may block, so they are made on a thread of the link's own (device_pump.hpp). They return as the
/// system's do: -1 with errno set.
class RawDevice {
 public:
  virtual ~RawDevice() = default;
  /// To wait on for input, where the device can be waited on.
  virtual int descriptor() const = 0;
  /// HID: one whole report. USBTMC: one answer, or its first `size` bytes.
  virtual ssize_t read(char* into, std::size_t size) = 0;
  /// HID: one report with its number first (0 where reports have none). USBTMC: one message.
  virtual ssize_t write(std::string_view bytes) = 0;

  /// HID only. The first byte is the report's number.
  virtual int set_feature(std::string report) = 0;
  /// HID only: empty when the device does not answer.
  virtual std::string get_feature(unsigned char number, std::size_t size) = 0;
  virtual std::string report_descriptor() = 0;

  /// USBTMC only: how long read() waits; and forget a half-done exchange.
  virtual int set_timeout_ms(unsigned milliseconds) = 0;
  virtual int clear() = 0;
};

/// @throws Error(meter): not there, no permission, in use.
using RawDeviceOpener = std::function<std::unique_ptr<RawDevice>(const std::string& path)>;

/// Opens the kernel's device, exclusively among well-behaved programs (flock).
std::unique_ptr<RawDevice> open_kernel_device(const std::string& path);

}  // namespace switchwright
