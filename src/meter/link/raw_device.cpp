#include "meter/link/raw_device.hpp"

#include <fcntl.h>
#include <linux/hidraw.h>
#include <linux/usb/tmc.h>
#include <sys/file.h>
#include <sys/ioctl.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <cstdint>
#include <cstring>
#include <utility>

#include "core/descriptor.hpp"
#include "switchwright/core/error.hpp"

namespace switchwright {

namespace {

class KernelDevice final : public RawDevice {
 public:
  explicit KernelDevice(Descriptor fd) : fd_(std::move(fd)) {}

  int descriptor() const override { return fd_.get(); }
  ssize_t read(char* into, std::size_t size) override { return ::read(fd_.get(), into, size); }
  ssize_t write(std::string_view bytes) override { return ::write(fd_.get(), bytes.data(), bytes.size()); }

  int set_feature(std::string report) override {
    return ::ioctl(fd_.get(), HIDIOCSFEATURE(report.size()), report.data());
  }
  std::string get_feature(unsigned char number, std::size_t size) override {
    std::string report(size, '\0');
    report[0] = static_cast<char>(number);
    const int count = ::ioctl(fd_.get(), HIDIOCGFEATURE(report.size()), report.data());
    report.resize(count > 0 ? std::min(size, static_cast<std::size_t>(count)) : 0);
    return report;
  }
  std::string report_descriptor() override {
    int size = 0;
    hidraw_report_descriptor descriptor{};
    if (::ioctl(fd_.get(), HIDIOCGRDESCSIZE, &size) < 0) return {};
    descriptor.size = static_cast<std::uint32_t>(std::clamp(size, 0, HID_MAX_DESCRIPTOR_SIZE));
    if (::ioctl(fd_.get(), HIDIOCGRDESC, &descriptor) < 0) return {};
    return {reinterpret_cast<const char*>(descriptor.value), descriptor.size};
  }

  int set_timeout_ms(unsigned milliseconds) override {
    return ::ioctl(fd_.get(), USBTMC_IOCTL_SET_TIMEOUT, &milliseconds);
  }
  int clear() override { return ::ioctl(fd_.get(), USBTMC_IOCTL_CLEAR); }

 private:
  Descriptor fd_;
};

std::string what_to_do(int error) {
  if (error == EACCES || error == EPERM)
    return "give the user who is logged in the right to open it: the package's udev rule does so; "
           "`switchwright doctor` says what is missing";
  if (error == ENOENT || error == ENODEV || error == ENXIO)
    return "plug the cable in; `switchwright ports` lists what there is";
  return "unplug the cable and put it back";
}

}  // namespace

std::unique_ptr<RawDevice> open_kernel_device(const std::string& path) {
  Descriptor fd{::open(path.c_str(), O_RDWR | O_CLOEXEC | O_NOCTTY)};
  if (!fd) {
    const int why = errno;
    throw Error(ErrorKind::meter, "cannot open it: " + system_error_text(why), path, what_to_do(why));
  }
  if (::flock(fd.get(), LOCK_EX | LOCK_NB) != 0)
    throw Error(ErrorKind::meter, "another program is using this device", path, "end it, or name another port");
  return std::make_unique<KernelDevice>(std::move(fd));
}

}  // namespace switchwright
