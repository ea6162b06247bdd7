// One simulated meter at work: it converts at its own pace, whether or not anybody listens, and talks on its
// own line.
#pragma once

#include <chrono>
#include <functional>
#include <memory>
#include <optional>
#include <string>

#include "sim/encoder.hpp"
#include "sim/meter_model.hpp"
#include "sim/wire.hpp"
#include "switchwright/core/loop.hpp"
#include "switchwright/meter/definition.hpp"

namespace switchwright::sim {

struct StationSettings {
  std::optional<double> rate_hz;      ///< the definition's update rate when absent
  std::optional<double> averaging_s;  ///< 0.4 of the update interval when absent
  std::string link = "pty";
  std::uint64_t seed = 1;
  Quantity dial = Quantity::resistance;
};

/// Thread rule: lives on the loop's thread; callbacks come from Loop::run().
class MeterStation {
 public:
  /// What an ideal meter at its probes would show just now, averaged over a window.
  using Look = std::function<double(Quantity quantity, double window_s)>;

  /// @param after_reading called after each conversion, its bytes already sent.
  /// @throws Error(usage) for a rate, a link or a language that is not there.
  MeterStation(Loop& loop, const MeterDefinition& definition, const StationSettings& settings, Look look,
               std::function<void()> after_reading);
  MeterStation(const MeterStation&) = delete;
  MeterStation& operator=(const MeterStation&) = delete;

  const std::string& port() const { return wire_->port(); }
  /// The knob of the meter itself; without effect on one that is told its function over the line.
  void turn_dial(Quantity dial) { dial_ = dial; }
  Quantity dial() const { return dial_; }
  bool has_dial() const { return !encoder_->function(); }
  bool measures(Quantity quantity) const { return model_.measures(quantity); }
  /// Something in front of the probes changed: the next conversion falls into the change.
  void moved() { moving_ = true; }
  /// Conversions from now until one is wholly of the present arrangement.
  int readings_until_fresh() const;

 private:
  std::unique_ptr<Wire> make_wire(Loop& loop, const std::string& link);
  void wait_for_next_reading();
  void give_reading();

  Loop& loop_;
  std::chrono::nanoseconds period_;
  double averaging_s_;
  Look look_;
  std::function<void()> after_reading_;
  MeterModel model_;
  std::unique_ptr<Encoder> encoder_;
  std::unique_ptr<Wire> wire_;
  Quantity dial_;
  Display display_{.state = ReadingState::not_a_number};
  bool moving_ = false;
  std::chrono::steady_clock::time_point due_;
  Loop::Timer next_reading_;
};

}  // namespace switchwright::sim
