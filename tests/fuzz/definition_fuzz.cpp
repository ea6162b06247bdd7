// Whatever a file holds: the loader returns a definition whose decoder can be made and fed, or throws
// Error(usage) with a place for each mistake.
#include <cstdint>
#include <cstdlib>
#include <string>
#include <vector>

#include "switchwright/core/error.hpp"
#include "switchwright/meter/decoder.hpp"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  using namespace switchwright;
  try {
    const MeterDefinition definition =
        parse_meter_definition(std::string(reinterpret_cast<const char*>(data), size), "fuzz.toml");
    std::vector<Reading> readings;
    make_decoder(definition)->feed("+1.0E+0\r\n147000300020\r\n", {}, readings);
  } catch (const Error& error) {
    if (error.kind() != ErrorKind::usage) std::abort();
    if (std::string(error.what()).rfind("fuzz.toml:", 0) != 0) std::abort();
  }
  return 0;
}
