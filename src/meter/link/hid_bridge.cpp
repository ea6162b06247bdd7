// Numbered reports (application note AN434, "Interface specification", reports 0x41, 0x43, 0x50, 0x01 to 0x3F):
//
//   50 BB BB BB BB PP FF DD SS     feature: baud (most significant byte first), parity, flow control, data bits
//                                  (0 = 5 ... 3 = 8), stop bits (0 = one)
//   41 01                          feature: UART on, after it is set up
//   43 03                          feature: both buffers thrown away
//   NN dd dd ...                   data: NN is 1 to 63, and so many bytes follow; the rest of a read is padding
//
// 8-byte reports (from memory, no source at hand):
//
//   LL HH 00 00 ss                 feature: baud, low byte first; ss is data bits - 5
//   Fn dd dd dd dd dd dd dd        data: n is 0 to 7
#include "meter/link/hid_bridge.hpp"

#include <algorithm>
#include <cstdint>
#include <set>

#include "switchwright/core/error.hpp"

namespace switchwright {

namespace {

constexpr std::size_t most_in_a_report = 63;

struct Described {
  std::set<unsigned> input, output, feature;  ///< report numbers; 0 without numbers
  std::uint64_t input_bits = 0;               ///< of report 0
  bool vendor_defined = false;
};

/// Short items only; a long item (0xFE) is skipped whole. A torn descriptor gives what came before the tear.
Described described_by(std::string_view bytes) {
  Described all;
  std::uint32_t size = 0, count = 0, number = 0;
  for (std::size_t at = 0; at < bytes.size();) {
    const auto prefix = static_cast<unsigned char>(bytes[at++]);
    if (prefix == 0xFE) {
      if (at + 1 >= bytes.size()) break;
      at += 2U + static_cast<unsigned char>(bytes[at]);
      continue;
    }
    const std::size_t length = (prefix & 3) == 3 ? 4 : prefix & 3;
    if (length > bytes.size() - at) break;
    std::uint32_t value = 0;
    for (std::size_t i = 0; i < length; ++i)
      value |= static_cast<std::uint32_t>(static_cast<unsigned char>(bytes[at + i])) << (8 * i);
    at += length;
    switch (prefix & 0xFC) {
      case 0x04: all.vendor_defined = all.vendor_defined || (value & 0xFFFF) >= 0xFF00; break;
      case 0x74: size = value; break;
      case 0x84: number = value; break;
      case 0x94: count = value; break;
      case 0x80:
        all.input.insert(number);
        if (number == 0) all.input_bits += static_cast<std::uint64_t>(size) * count;
        break;
      case 0x90: all.output.insert(number); break;
      case 0xB0: all.feature.insert(number); break;
      default: break;
    }
  }
  return all;
}

unsigned char parity_code(Parity parity) {
  switch (parity) {
    case Parity::odd: return 1;
    case Parity::even: return 2;
    case Parity::none: break;
  }
  return 0;
}

std::string numbered_settings(const LinkSettings& link) {
  const auto baud = static_cast<std::uint32_t>(link.baud);
  std::string report{'\x50'};
  for (const int shift : {24, 16, 8, 0}) report += static_cast<char>(baud >> shift & 0xFF);
  report += static_cast<char>(parity_code(link.parity));
  report += '\0';
  report += static_cast<char>(link.data_bits - 5);
  report += static_cast<char>(link.stop_bits == 2 ? 1 : 0);
  return report;
}

}  // namespace

std::optional<HidBridgeKind> hid_bridge_kind(std::string_view report_descriptor) {
  const Described all = described_by(report_descriptor);
  if (!all.vendor_defined) return std::nullopt;
  if (all.feature.count(0x41) && all.feature.count(0x50) && all.input.count(1) && all.output.count(1))
    return HidBridgeKind::numbered_reports;
  if (all.input == std::set<unsigned>{0} && all.input_bits == 64 && all.feature.count(0))
    return HidBridgeKind::eight_byte_reports;
  return std::nullopt;
}

std::vector<std::string> HidBridge::set_up() const {
  const auto refuse = [](const std::string& what) {
    throw Error(ErrorKind::usage, "this kind of HID adapter cannot be set to " + what,
                "hid:", "the [link] part of the meter definition does not fit this cable");
  };
  if (settings_.data_bits < 5 || settings_.data_bits > 8) refuse(std::to_string(settings_.data_bits) + " data bits");
  if (kind_ == HidBridgeKind::numbered_reports)
    return {numbered_settings(settings_), {'\x41', '\x01'}, {'\x43', '\x03'}};
  if (settings_.baud < 1 || settings_.baud > 0xFFFF) refuse(std::to_string(settings_.baud) + " baud");
  // Report number 0 in front: the kernel takes it off where reports are not numbered.
  return {{'\0', static_cast<char>(settings_.baud & 0xFF), static_cast<char>(settings_.baud >> 8), '\0', '\0',
           static_cast<char>(settings_.data_bits - 5)}};
}

bool HidBridge::took_settings(std::string_view answer) const {
  const std::string asked = numbered_settings(settings_);
  // The speed the chip comes nearest to is given back: within 2 % a UART still reads right (common practice).
  if (answer.size() < asked.size() || answer[0] != asked[0]) return true;  // it does not say
  std::uint32_t baud = 0;
  for (std::size_t i = 1; i <= 4; ++i) baud = baud << 8 | static_cast<unsigned char>(answer[i]);
  const double off = (static_cast<double>(baud) - settings_.baud) / settings_.baud;
  return off > -0.02 && off < 0.02 && answer[5] == asked[5] && answer[7] == asked[7] && answer[8] == asked[8];
}

std::string HidBridge::decode(std::string_view report) {
  if (report.empty()) return {};
  const auto first = static_cast<unsigned char>(report[0]);
  const bool numbered = kind_ == HidBridgeKind::numbered_reports;
  const bool holds_data = numbered ? first >= 1 && first <= most_in_a_report : first >= 0xF0 && first <= 0xF7;
  const std::size_t count = numbered ? first : first & 0x0F;
  if (!holds_data || report.size() < count + 1) {
    ++strange_;
    return {};
  }
  std::string bytes{report.substr(1, count)};
  if (settings_.data_bits == 7 && !numbered)
    for (char& c : bytes) c = static_cast<char>(c & 0x7F);
  return bytes;
}

std::vector<std::string> HidBridge::encode(std::string_view bytes) const {
  std::vector<std::string> reports;
  if (!can_send()) return reports;
  for (std::size_t at = 0; at < bytes.size(); at += most_in_a_report) {
    const std::string_view part = bytes.substr(at, most_in_a_report);
    reports.push_back(std::string(1, static_cast<char>(part.size())) + std::string{part});
  }
  return reports;
}

}  // namespace switchwright
