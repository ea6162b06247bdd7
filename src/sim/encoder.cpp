#include "sim/encoder.hpp"

#include <map>
#include <utility>
#include <vector>

#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"

namespace switchwright::sim {

namespace {

/// A meter that shows readings all the time and sends one when it is asked.
class Polled final : public Encoder {
 public:
  Polled(std::unique_ptr<Encoder> inner, std::string request)
      : inner_(std::move(inner)), request_(std::move(request)) {}

  std::string shown(const Display& display) override {
    last_ = inner_->shown(display);
    return !last_.empty() && std::exchange(asked_, false) ? last_ : std::string{};
  }

  std::string asked(std::string_view bytes) override {
    received_ += bytes;
    const auto at = received_.rfind(request_);
    if (at == std::string::npos) {
      if (received_.size() > request_.size()) received_.erase(0, received_.size() - request_.size());
      return {};
    }
    received_.erase(0, at + request_.size());
    asked_ = last_.empty();  // nothing on the display just now: the next reading is the answer
    return last_;
  }

  void reset() override {
    received_.clear();
    asked_ = false;
  }

 private:
  std::unique_ptr<Encoder> inner_;
  std::string request_;
  std::string received_;
  std::string last_;
  bool asked_ = false;
};

}  // namespace

std::unique_ptr<Encoder> make_encoder(const MeterDefinition& definition) {
  using Make = std::unique_ptr<Encoder> (*)(const MeterDefinition&);
  static const std::map<std::string, Make> encoders{
      {"ascii-nibble-11", ascii_nibble_11_encoder},
      {"ascii-nibble-14", ascii_nibble_14_encoder},
      {"ascii-status-14", ascii_status_14_encoder},
      {"framed-text-16", framed_text_16_encoder},
      {"lcd-segment-14", lcd_segment_14_encoder},
      {"line-pattern", line_pattern_encoder},
      {"scpi", scpi_responder},
  };
  const std::string& kind = definition.decoder.kind;
  if (const auto found = encoders.find(kind); found != encoders.end()) {
    auto encoder = found->second(definition);
    if (kind == "scpi" || !definition.poll || definition.poll->request.empty()) return encoder;
    return std::make_unique<Polled>(std::move(encoder), definition.poll->request);
  }
  std::vector<std::string> kinds;
  for (const auto& [known, make] : encoders) kinds.push_back(known);
  throw Error(ErrorKind::usage, "the simulator cannot speak \"" + terminal_safe(kind) + "\"", definition.id,
              suggestion(kind, kinds));
}

}  // namespace switchwright::sim
