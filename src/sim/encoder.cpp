#include "sim/encoder.hpp"

#include <map>
#include <vector>

#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"

namespace switchwright::sim {

std::unique_ptr<Encoder> make_encoder(const MeterDefinition& definition) {
  using Make = std::unique_ptr<Encoder> (*)(const MeterDefinition&);
  static const std::map<std::string, Make> encoders{
      {"ascii-nibble-11", ascii_nibble_11_encoder},
      {"ascii-nibble-14", ascii_nibble_14_encoder},
      {"lcd-segment-14", lcd_segment_14_encoder},
      {"scpi", scpi_responder},
  };
  if (const auto found = encoders.find(definition.decoder.kind); found != encoders.end())
    return found->second(definition);
  std::vector<std::string> kinds;
  for (const auto& [kind, make] : encoders) kinds.push_back(kind);
  throw Error(ErrorKind::usage, "the simulator cannot speak \"" + definition.decoder.kind + "\"",
              definition.id, suggestion(definition.decoder.kind, kinds));
}

}  // namespace switchwright::sim
