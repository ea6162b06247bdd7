// stub
#include "sim/encoder.hpp"
namespace switchwright::sim {
std::unique_ptr<Encoder> ascii_nibble_14_encoder(const MeterDefinition&) {
  return nullptr;
}
}  // namespace switchwright::sim
