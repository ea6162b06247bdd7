// Readers of outside text and bytes that need no file: whatever comes, each answers or throws Error(usage).
// The first byte of the input picks the reader; a seed file without such a byte goes to all of them.
#include <cstdint>
#include <cstdlib>
#include <string>

#include "meter/link/hid_bridge.hpp"
#include "meter/link/rfc2217.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/hands/hands_message.hpp"
#include "switchwright/meter/own.hpp"
#include "switchwright/meter/typed.hpp"
#include "switchwright/profile/library.hpp"

namespace {

using namespace switchwright;

template <class Read>
void usage_or_answer(Read read) {
  try {
    read();
  } catch (const Error& error) {
    if (error.kind() != ErrorKind::usage) std::abort();
  }
}

void feed_bridges(const std::string& bytes) {
  (void)hid_bridge_kind(bytes);
  for (const HidBridgeKind kind : {HidBridgeKind::numbered_reports, HidBridgeKind::eight_byte_reports}) {
    LinkSettings link;
    link.data_bits = bytes.size() % 2 == 0 ? 7 : 8;
    HidBridge bridge{kind, link};
    (void)bridge.took_settings(bytes);
    for (std::size_t at = 0; at < bytes.size(); at += 64) {
      const std::string report = bytes.substr(at, 64);
      if (bridge.decode(report).size() >= report.size()) std::abort();  // more than came
    }
    std::string again;
    for (const std::string& report : bridge.encode(bytes)) again += bridge.decode(report);
    if (kind == HidBridgeKind::numbered_reports && again != bytes) std::abort();
  }
}

void feed_serial_server(const std::string& bytes) {
  ComPortClient whole{LinkSettings{}}, pieces{LinkSettings{}};
  std::string reply, other;
  const std::string data = whole.receive(bytes, reply);
  std::string cut;
  for (const char c : bytes) cut += pieces.receive({&c, 1}, other);
  if (data != cut || reply != other) std::abort();
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const std::string bytes(reinterpret_cast<const char*>(data), size);
  static const Profile part = load_profile("relay-changeover", {std::string(SOURCE_DIR) + "/profiles"});
  feed_bridges(bytes);
  feed_serial_server(bytes);
  usage_or_answer([&] {
    const Reading reading = read_typed(bytes, Quantity::resistance, {});
    if (reading.finite() && !(reading.resolution > 0.0)) std::abort();
  });
  usage_or_answer([&] { (void)read_hands_request(bytes, part); });
  usage_or_answer([&] { (void)parse_profile(bytes, "fuzz.toml"); });
  usage_or_answer([&] { (void)parse_correction(bytes); });
  (void)serial_in_identity(bytes);
  return 0;
}
