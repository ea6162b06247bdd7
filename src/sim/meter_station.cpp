#include "sim/meter_station.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <utility>

#include "switchwright/core/clock.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"

namespace switchwright::sim {

namespace {

/// Share of the update interval in which the converter looks at its input.
constexpr double converting_share = 0.4;

double period_s_of(const MeterDefinition& definition, const StationSettings& settings) {
  const double rate_hz = settings.rate_hz.value_or(definition.update_rate_hz);
  if (!(rate_hz >= 0.01 && rate_hz <= 10'000.0))
    throw Error(ErrorKind::usage, fmt::format("{} readings per second are not possible", rate_hz), "simulated meter",
                "give a rate from 0.01 to 10000");
  return 1.0 / rate_hz;
}

}  // namespace

MeterStation::MeterStation(Loop& loop, const MeterDefinition& definition, const StationSettings& settings, Look look,
                           std::function<void()> after_reading)
    : loop_(loop),
      period_(from_seconds(period_s_of(definition, settings))),
      averaging_s_(settings.averaging_s.value_or(converting_share * period_s_of(definition, settings))),
      look_(std::move(look)),
      after_reading_(std::move(after_reading)),
      model_(definition, settings.seed),
      encoder_(make_encoder(definition)),
      wire_(make_wire(loop, settings.link)),
      dial_(settings.dial),
      due_(std::chrono::steady_clock::now()) {
  wait_for_next_reading();
}

std::unique_ptr<Wire> MeterStation::make_wire(Loop& loop, const std::string& link) {
  const auto received = [this](std::string_view bytes) {
    if (const std::string answer = encoder_->asked(bytes); !answer.empty()) wire_->send(answer);
  };
  if (link == "pty") return pty_wire(loop, received);
  if (link == "tcp") return tcp_wire(loop, received, [this] { encoder_->reset(); });
  throw Error(ErrorKind::usage, "no link is called \"" + terminal_safe(link) + "\"", "simulated meter",
              suggestion(link, {"pty", "tcp"}));
}

int MeterStation::readings_until_fresh() const {
  if (!moving_) return 1;
  // The one under way, and as many as still average over the time before.
  const double intervals = averaging_s_ / std::chrono::duration<double>(period_).count();
  return 1 + std::max(1, static_cast<int>(std::ceil(intervals)));
}

void MeterStation::wait_for_next_reading() {
  due_ += std::chrono::duration_cast<std::chrono::steady_clock::duration>(period_);
  const auto now = std::chrono::steady_clock::now();
  if (due_ < now) due_ = now;  // after a pause of the machine the meter goes on, it does not catch up
  next_reading_ = loop_.after(due_ - now, [this] { give_reading(); });
}

void MeterStation::give_reading() {
  wait_for_next_reading();
  const Quantity quantity = encoder_->function().value_or(dial_);
  const bool moved = std::exchange(moving_, false);
  const double value = look_(quantity, averaging_s_);
  if (moved && has_dial() && quantity != display_.quantity) {
    // A turned dial blanks the display for one conversion.
    display_ = Display{.quantity = quantity, .state = ReadingState::not_a_number};
  } else {
    const bool between = moved && quantity == display_.quantity && display_.state != ReadingState::not_a_number;
    display_ = between ? model_.convert_between(display_, value) : model_.convert(quantity, value);
    if (const std::string bytes = encoder_->shown(display_); !bytes.empty()) wire_->send(bytes);
  }
  after_reading_();
}

}  // namespace switchwright::sim
