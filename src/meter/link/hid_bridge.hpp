// A UART inside a HID device: which kind of bridge it is, how its UART is set up, and the meter's bytes in its
// reports. No input or output here.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "switchwright/meter/definition.hpp"

namespace switchwright {

enum class HidBridgeKind {
  numbered_reports,   ///< application note AN434: the number of a data report is the number of its bytes
  eight_byte_reports  ///< first byte 0xF0 + number of bytes. From memory, no source at hand
};

/// From the report descriptor (USB HID 1.11, 6.2.2); nothing for what is no such bridge (keyboards, mice).
std::optional<HidBridgeKind> hid_bridge_kind(std::string_view report_descriptor);

class HidBridge {
 public:
  HidBridge(HidBridgeKind kind, const LinkSettings& settings) : kind_(kind), settings_(settings) {}

  /// Feature reports that set the UART up, in order. @throws Error(usage) for a setting it cannot have.
  std::vector<std::string> set_up() const;
  /// Feature report to ask back after setting up, and what it must begin with; number 0: there is none.
  unsigned char asked_back() const { return kind_ == HidBridgeKind::numbered_reports ? 0x50 : 0; }
  bool took_settings(std::string_view answer) const;

  /// The meter's bytes in one input report; empty for a report that holds none or is torn.
  std::string decode(std::string_view report);
  /// Output reports that carry these bytes, each one write.
  std::vector<std::string> encode(std::string_view bytes) const;
  /// How bytes are sent through the bridge with 8-byte reports is not known here.
  bool can_send() const { return kind_ == HidBridgeKind::numbered_reports; }
  int strange_reports() const { return strange_; }

 private:
  HidBridgeKind kind_;
  LinkSettings settings_;
  int strange_ = 0;
};

}  // namespace switchwright
