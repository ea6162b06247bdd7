// hid:PATH and usbtmc:PATH as endpoints.
#pragma once

#include <memory>
#include <string>

#include "meter/link/endpoint.hpp"
#include "meter/link/raw_device.hpp"

namespace switchwright {

inline bool is_raw_port(const std::string& port) { return port.starts_with("hid:") || port.starts_with("usbtmc:"); }

/// @param port hid:PATH or usbtmc:PATH. @throws Error(usage) when the definition cannot be spoken there.
std::unique_ptr<Endpoint> make_raw_endpoint(const std::string& port, const MeterDefinition& definition,
                                            RawDeviceOpener opener = open_kernel_device);

}  // namespace switchwright
