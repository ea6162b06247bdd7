// Whatever a cable delivers: no decoder may crash, hang, or depend on how the bytes are cut.
#include <cstdint>
#include <cstdlib>
#include <memory>
#include <string>
#include <vector>

#include "switchwright/meter/decoder.hpp"

namespace {

using namespace switchwright;

const std::vector<MeterDefinition>& definitions() {
  static const std::vector<MeterDefinition> all = [] {
    const SearchPath shipped{{std::string(SOURCE_DIR) + "/meters"}};
    std::vector<MeterDefinition> loaded;
    for (const std::string& id : list_meter_definitions(shipped)) loaded.push_back(load_meter_definition(id, shipped));
    return loaded;
  }();
  return all;
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const std::string bytes(reinterpret_cast<const char*>(data), size);
  for (const MeterDefinition& definition : definitions()) {
    std::vector<Reading> whole;
    make_decoder(definition)->feed(bytes, {}, whole);
    const auto decoder = make_decoder(definition);
    std::vector<Reading> pieces;
    for (std::size_t at = 0; at < bytes.size(); at += 1 + at % 5)
      decoder->feed(std::string_view(bytes).substr(at, 1 + at % 5), {}, pieces);
    if (whole.size() != pieces.size()) std::abort();
    for (std::size_t i = 0; i < whole.size(); ++i)
      if (whole[i].raw != pieces[i].raw || whole[i].state != pieces[i].state) std::abort();
    decoder->reset();
  }
  return 0;
}
