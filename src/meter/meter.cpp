#include "switchwright/meter/meter.hpp"

#include "meter/link/link_meter.hpp"
#include "meter/link/replay.hpp"
#include "switchwright/meter/typed.hpp"

namespace switchwright {

namespace {

/// Nothing comes from it: the person types (typed.hpp).
class NoCable final : public Meter {
 public:
  explicit NoCable(std::unique_ptr<Decoder> decoder) : decoder_(std::move(decoder)) {}
  void select(Quantity) override {}
  void stop() override {}
  const FrameCounts& counts() const override { return decoder_->counts(); }
  std::string identity() const override { return {}; }

 private:
  std::unique_ptr<Decoder> decoder_;
};

}  // namespace

std::unique_ptr<Meter> open_meter(Loop& loop, const Clock& clock, const MeterDefinition& definition,
                                  const std::string& port, MeterCallbacks callbacks, MeterOptions options) {
  auto decoder = make_decoder(definition);
  if (is_typed(definition.id)) return std::make_unique<NoCable>(std::move(decoder));
  if (port.starts_with("replay:"))
    return open_replay(loop, clock, definition, port, std::move(decoder), std::move(callbacks), options);
  return open_link_meter(loop, clock, definition, port, std::move(decoder), std::move(callbacks));
}

}  // namespace switchwright
